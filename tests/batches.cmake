# Which tests a quick build compiles together (src/batches.cmake).
jigtrue_batches(jigtrue_base_tests tests/base/%_test.cpp
  "append_line decompositions least_squares write_file" "in_parallel median read_file write_file_failure")
jigtrue_batches(jigtrue_geometry_tests tests/geometry/%_test.cpp "revolution rigid")
jigtrue_batches(jigtrue_camera_tests tests/camera/%_test.cpp "camera lens")
jigtrue_batches(jigtrue_image_tests tests/image/%_test.cpp "board write_picture" "mark read_photo")
jigtrue_batches(jigtrue_fixture_tests tests/fixture/%_test.cpp "json_text move_slots read_fixture" "read_band resting_axis")
jigtrue_batches(jigtrue_calibration_tests tests/calibration/%_test.cpp
  "camera_drift flat_boards lens_fit machine_reading" "locate_by_marks map_uncertainty marks_file pose_fit")
jigtrue_batches(jigtrue_detection_tests tests/detection/%_test.cpp "blur edge_fit outline plausibility strip")
jigtrue_batches(jigtrue_measurement_tests tests/measurement/%_test.cpp "fixture_marks uncertainty")
jigtrue_batches(jigtrue_layout_tests tests/layout/%_test.cpp
  "apply_machine artwork layout_dxf name_list text" "correct_job layout_svg machine usable_band")
jigtrue_batches(jigtrue_report_tests tests/report/%_test.cpp
  "annotated_picture read_report report_html target" "calibration_page offsets_csv report_json trend"
  "check_outputs page_in_browser table")
jigtrue_batches(jigtrue_cli_tests tests/cli/%_test.cpp
  "calibration_page flat_photos main_job" "marks place readme" "bad_input sheet_shape target")
jigtrue_batches(jigtrue_property_tests tests/property/%_test.cpp
  "changed_bed changed_calibration changed_view spoiled_photo")
jigtrue_batches(jigtrue_published_tests tests/published/%_test.cpp
  "calibration least_squares light practice sheets" "decision_rule lens_database outline second_computation")
jigtrue_batches(jigtrue_fuzz_tests tests/fuzz/%.cpp "replay_test readers")
