# Which sources a quick build compiles together (JIGTRUE_QUICK_BUILD).
# Sources of one target read and instantiate the same large templates: in batches they do so once. Each further argument names one
# batch, as what stands for % in the sources' path. What has the same name in two sources keeps them in different batches; a source
# that is not named is compiled by itself, as one must be whose types hold others of an anonymous namespace (GCC warns).
function(jigtrue_batches target path)
  if(NOT JIGTRUE_QUICK_BUILD)
    return()
  endif()
  set_target_properties(${target} PROPERTIES UNITY_BUILD ON UNITY_BUILD_MODE GROUP)
  set(number 0)
  foreach(batch IN LISTS ARGN)
    math(EXPR number "${number} + 1")
    separate_arguments(batch)
    foreach(name IN LISTS batch)
      string(REPLACE "%" ${name} source ${PROJECT_SOURCE_DIR}/${path})
      if(NOT EXISTS ${source})
        message(FATAL_ERROR "a batch of ${target} names ${source}, which does not exist")
      endif()
      set_source_files_properties(${source} TARGET_DIRECTORY ${target} PROPERTIES UNITY_GROUP batch_${number})
    endforeach()
  endforeach()
endfunction()

jigtrue_batches(jigtrue_base src/base/%.cpp "append_line decompositions error in_parallel least_squares median read_file")
jigtrue_batches(jigtrue_geometry src/geometry/%.cpp "revolution rigid")
jigtrue_batches(jigtrue_camera src/camera/%.cpp "camera camera_shares distortion lens")
jigtrue_batches(jigtrue_image src/image/%.cpp
  "exif_orientation find_mark grow_grid png_reader shrink_plane tiff_reader"
  "all_marks board_spec grid_map read_photo saddle write_picture"
  "encoded_photo find_board jpeg_reader refine_corner rgb_planes")
jigtrue_batches(jigtrue_fixture src/fixture/%.cpp "blank_shape field_name json_text move_slots node read_fixture resting_axis")
jigtrue_batches(jigtrue_calibration src/calibration/%.cpp
  "bundle camera_drift lens_fit machine_reading marks_file"
  "burned_fit camera_file choose_model map_uncertainty pose_fit"
  "corner_noise lens_file machine_figures model_error view_pose"
  "board_pose fit_model flat_boards locate_by_marks screen_views"
  "board_shape flat_boards_check json_fields match_marks witness")
jigtrue_batches(jigtrue_detection src/detection/%.cpp
  "coarse_search edge_fit outline outline_fit plausibility readings search_picture strip")
jigtrue_batches(jigtrue_measurement src/measurement/%.cpp
  "check_photo fixture_marks photo_fault sketch uncertainty"
  "fixture_placement measure_slot prepare_photo slot_result")
jigtrue_batches(jigtrue_layout src/layout/%.cpp
  "apply_machine clip_region design_art layout_svg read_artwork svg_document svg_values"
  "correct_job judge_design layout_dxf machine placement svg_style"
  "ink job_file name_list run_time svg_path text usable_band")
jigtrue_batches(jigtrue_report src/report/%.cpp
  "bed_map board_scale draw offsets_csv page_budgets report_html target_burn"
  "check_outputs page_picture photo_advice placement_files pose_page residual_plots"
  "lens_page move_picture page_style place_labels report_json target_sheet"
  "annotated_picture base64 check_record page_table standing table"
  "calibration_parts read_report standing_style target_drawing trend trend_html")
jigtrue_batches(jigtrue_cli src/cli/%.cpp
  "check_command lens_command numbers page_beside photo_top where_command"
  "place_camera place_command pose_command run target_command trend_command")
