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
    string(REGEX MATCHALL "[^ \n]+" batch "${batch}")
    foreach(name IN LISTS batch)
      string(REPLACE "%" ${name} source ${PROJECT_SOURCE_DIR}/${path})
      if(NOT EXISTS ${source})
        message(FATAL_ERROR "a batch of ${target} names ${source}, which does not exist")
      endif()
      set_source_files_properties(${source} TARGET_DIRECTORY ${target} PROPERTIES UNITY_GROUP batch_${number})
    endforeach()
  endforeach()
endfunction()

jigtrue_batches(jigtrue_base src/base/%.cpp
  "append_line decompositions error in_parallel least_squares median products read_file write_file")
jigtrue_batches(jigtrue_geometry src/geometry/%.cpp "revolution rigid")
jigtrue_batches(jigtrue_camera src/camera/%.cpp "camera camera_shares distortion lens")
jigtrue_batches(jigtrue_image src/image/%.cpp
  "all_marks board_spec encoded_photo exif_orientation jpeg_reader large_pages plane_shrinker png_reader read_photo rgb_planes
   saddle tiff_reader write_picture"
  "find_board find_mark grid_map grow_grid refine_corner")
jigtrue_batches(jigtrue_fixture src/fixture/%.cpp "blank_shape field_name json_text move_slots node read_fixture resting_axis")
# two, as one would take GCC 1.9 GB
jigtrue_batches(jigtrue_calibration src/calibration/%.cpp
  "board_shape bundle choose_model corner_noise fit_model held_out_on_bed json_fields lens_file lens_fit map_uncertainty model_error
   plane_sigma screen_views view_pose witness"
  "board_pose burned_equations burned_fit camera_drift camera_file flat_boards flat_boards_check locate_by_marks machine_figures
   machine_reading marks_and_boards marks_file match_marks pose_fit seen_boards")
jigtrue_batches(jigtrue_detection src/detection/%.cpp
  "coarse_search edge_fit edge_model_store edge_terms edge_trial outline outline_fit plausibility readings row_mean search_picture
   second_edge second_trial strip")
jigtrue_batches(jigtrue_measurement src/measurement/%.cpp
  "check_photo fixture_marks fixture_placement measure_slot photo_fault prepare_photo sketch slot_result uncertainty")
jigtrue_batches(jigtrue_layout src/layout/%.cpp
  "apply_machine clip_region correct_job design_art ink job_file judge_design layout_dxf layout_svg machine name_list placement
   read_artwork run_time svg_document svg_path svg_style svg_values text usable_band")
jigtrue_batches(jigtrue_report src/report/%.cpp
  "annotated_picture base64 bed_map board_scale calibration_parts check_outputs check_record draw lens_page move_picture
   offsets_csv page_budgets page_picture page_style page_table photo_advice place_labels placement_files pose_page read_report
   report_html report_json residual_plots standing standing_style table target_burn target_drawing target_sheet trend
   trend_html")
jigtrue_batches(jigtrue_cli src/cli/%.cpp
  "check_command lens_command numbers page_beside photo_top place_camera place_command pose_command run target_command
   trend_command where_command")
