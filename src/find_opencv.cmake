# The OpenCV libraries of jigtrue_opencv_modules (core and imgproc, if nothing else is asked for) as targets opencv_core and so on.
# OpenCV's own package file is taken where there is one; Debian and Ubuntu ship it only with all of OpenCV, so the single libraries
# are looked for too.
if(NOT jigtrue_opencv_modules)
  set(jigtrue_opencv_modules core imgproc)
endif()
find_package(OpenCV 4.5 QUIET CONFIG COMPONENTS ${jigtrue_opencv_modules})
if(NOT OpenCV_FOUND)
  find_path(OpenCV_INCLUDE_DIRS opencv2/core.hpp PATH_SUFFIXES opencv4)
  foreach(module IN LISTS jigtrue_opencv_modules)
    find_library(OpenCV_${module}_LIBRARY opencv_${module})
    if(NOT OpenCV_${module}_LIBRARY OR NOT EXISTS "${OpenCV_INCLUDE_DIRS}/opencv2/${module}.hpp")
      message(FATAL_ERROR "OpenCV's ${module} was not found; on Debian and Ubuntu: apt-get install libopencv-${module}-dev")
    endif()
    if(NOT TARGET opencv_${module})
      add_library(opencv_${module} UNKNOWN IMPORTED)
      set_target_properties(opencv_${module} PROPERTIES
        IMPORTED_LOCATION "${OpenCV_${module}_LIBRARY}"
        INTERFACE_INCLUDE_DIRECTORIES "${OpenCV_INCLUDE_DIRS}")
    endif()
  endforeach()
endif()
