# Which tests a quick build compiles together (src/batches.cmake).
jigtrue_batches(jigtrue_test_support tests/support/%.cpp "html patterns")
jigtrue_batches(jigtrue_base_tests tests/base/%_test.cpp
  "append_line decompositions in_parallel least_squares median products read_file write_file write_file_failure")
jigtrue_batches(jigtrue_geometry_tests tests/geometry/%_test.cpp "revolution rigid")
jigtrue_batches(jigtrue_camera_tests tests/camera/%_test.cpp "camera camera_shares lens")
jigtrue_batches(jigtrue_image_tests tests/image/%_test.cpp "board mark read_photo write_picture")
jigtrue_batches(jigtrue_fixture_tests tests/fixture/%_test.cpp "json_text move_slots read_band read_fixture resting_axis")
jigtrue_batches(jigtrue_calibration_tests tests/calibration/%_test.cpp
  "camera_drift files flat_boards held_out_on_bed lens_fit locate_by_marks machine_reading map_uncertainty marks_and_boards
   marks_file pose_fit")
jigtrue_batches(jigtrue_detection_tests tests/detection/%_test.cpp "blur edge_fit edge_model_store outline plausibility strip")
jigtrue_batches(jigtrue_drawn tests/drawn/%.cpp "drawn_bed light_across random_load")
jigtrue_batches(jigtrue_measurement_tests tests/measurement/%_test.cpp "coverage fixture_marks hard_loads uncertainty")
jigtrue_batches(jigtrue_layout_tests tests/layout/%_test.cpp
  "apply_machine artwork correct_job layout_dxf layout_svg machine name_list run_time text usable_band")
jigtrue_batches(jigtrue_report_tests tests/report/%_test.cpp
  "annotated_picture calibration_page check_outputs offsets_csv page_in_browser read_report report_html report_json table target
   trend")
jigtrue_batches(jigtrue_cli_tests tests/cli/%_test.cpp
  "bad_input calibration_page flat_photos main_job marks place readme sheet_shape target")
jigtrue_batches(jigtrue_property_tests tests/property/%_test.cpp
  "changed_bed changed_calibration changed_view decoy_windows spoiled_photo")
jigtrue_batches(jigtrue_published_tests tests/published/%_test.cpp
  "calibration decision_rule least_squares lens_database light mrcal outline practice second_computation sheets")
jigtrue_batches(jigtrue_faults_tests tests/faults/%_test.cpp "killed program")
jigtrue_batches(jigtrue_fuzz_tests tests/fuzz/%.cpp "replay_test readers")
