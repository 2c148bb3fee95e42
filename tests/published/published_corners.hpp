// Corners of a general library's sample photos, as published beside the project; nothing where they are absent.
#pragma once
#include "jigtrue/calibration/lens_fit.hpp"

#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

namespace jigtrue::published {

inline const std::string kPublished = std::string(JIGTRUE_SOURCE_DIR) + "/../shared/published/";

// Corner files: "image,col,row,x_px,y_px", board of squares of size 1.
inline std::vector<LensView> corner_views(const std::string& name) {
  std::ifstream in(kPublished + name);
  std::map<std::string, LensView> by_image;
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    std::istringstream cells(line);
    std::string image;
    std::string cell;
    std::getline(cells, image, ',');
    double v[4] = {0, 0, 0, 0};
    for (double& value : v) {
      std::getline(cells, cell, ',');
      value = std::stod(cell);
    }
    by_image[image].file = image;
    by_image[image].points.push_back({{v[0], v[1], 0.0}, {v[2], v[3]}, 1.0});
  }
  std::vector<LensView> views;
  views.reserve(by_image.size());
  for (auto& [image, view] : by_image) views.push_back(std::move(view));
  return views;
}

inline LensFit fit_radial(const std::vector<LensView>& views, bool leave_out_corners = true) {
  LensFitOptions options;
  options.model = LensModel::radial5;
  options.leave_out_corners = leave_out_corners;
  return fit_lens_to_views(views, 640, 480, options);
}

}  // namespace jigtrue::published
