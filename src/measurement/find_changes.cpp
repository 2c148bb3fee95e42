#include "measurement/find_changes.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/image/sensor_range.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue::registration {
namespace {

constexpr double kShade = 0.75;  // of the light

// What a cell of the load shows beyond the empty photo.
struct CellChange {
  double unlike = 0.0;  // what the empty photo under a light that varies linearly leaves, variance over that of noise
  Vector2d tint = Vector2d::Zero();  // chroma beyond the empty photo's, over the brightness
  double tint_noise = 0.0;
  double light = 1.0;                  // over that of the surroundings
  double shade = 1.0;                  // over the empty photo's
  Vector2d colour = Vector2d::Zero();  // chroma over the brightness
};

// What both photos show, a little smoothed, and how unlike noise alone may make them.
struct ComparedPlanes {
  const PlanePair& pair;
  const Compared& compared;
  cv::Mat1f load;
  cv::Mat1f empty;  // under the load's light
  cv::Mat1f dx;     // its slopes
  cv::Mat1f dy;
  double blur_noise = 0.0;      // 1 sigma
  double place_variance = 0.0;  // of where the one lies on the other, px
};

ComparedPlanes compared_planes(const PlanePair& pair, const Level& level, const Compared& compared,
                               double place_sigma_px) {
  constexpr double kSmooth_px = 0.7;  // about a pixel's own width: what one sampled otherwise than the other
  ComparedPlanes planes{pair,
                        compared,
                        blurred(pair.load[0], kSmooth_px),
                        blurred(compared.light.mul(compared.moved[0]), kSmooth_px),
                        {},
                        {},
                        robust_sigma(level.load - blurred(level.load, 1.0), compared.unchanged, 0.2),
                        std::pow(place_sigma_px / pair.pixels.shrink, 2)};
  cv::Sobel(planes.empty, planes.dx, CV_32F, 1, 0, 3, 0.125);
  cv::Sobel(planes.empty, planes.dy, CV_32F, 0, 1, 3, 0.125);
  return planes;
}

// What is left of the load's cell once the empty photo under a light that varies linearly is taken away, and what
// colour it has beyond the empty photo's.
CellChange change_within(const ComparedPlanes& planes, const cv::Rect& cell) {
  constexpr double kUneven = 0.01;  // of the brightness: light that bends more than linearly within a cell
  const Compared& compared = planes.compared;
  Matrix3d normal = Matrix3d::Zero();
  Vector3d right = Vector3d::Zero();
  double squares = 0.0;
  double slopes = 0.0;
  double brightness = 0.0;
  double expected = 0.0;
  double light = 0.0;
  Vector2d tint = Vector2d::Zero();
  Vector2d usual = Vector2d::Zero();  // the empty photo's, to be made as bright as the load's
  const double middle = 0.5 * (cell.width - 1);
  for (int y = cell.y; y < cell.y + cell.height; ++y)
    for (int x = cell.x; x < cell.x + cell.width; ++x) {
      const double l = value_at(planes.load, y, x);
      const double e = value_at(planes.empty, y, x);
      const Vector3d row = e * Vector3d(1.0, (x - cell.x - middle) / cell.width, (y - cell.y - middle) / cell.width);
      normal += row * row.transpose();
      right += l * row;
      squares += l * l;
      slopes +=
          value_at(planes.dx, y, x) * value_at(planes.dx, y, x) + value_at(planes.dy, y, x) * value_at(planes.dy, y, x);
      brightness += l;
      expected += e;
      light += value_at(compared.light, y, x);
      tint += Vector2d(value_at(planes.pair.load[1], y, x), value_at(planes.pair.load[2], y, x));
    }
  const double factor = brightness / std::max(expected, 1.0);
  for (int y = cell.y; y < cell.y + cell.height; ++y)
    for (int x = cell.x; x < cell.x + cell.width; ++x)
      usual += factor * value_at(compared.light, y, x) *
               Vector2d(value_at(compared.moved[1], y, x), value_at(compared.moved[2], y, x));
  normal.diagonal().array() += 1e-3;
  const Vector3d solution = normal.ldlt().solve(right);
  const double n = cell.area();
  const double left = std::max(squares - right.dot(solution), 0.0) / (n - 3.0);
  const double uneven = kUneven * brightness / n;
  const double noise = planes.blur_noise * planes.blur_noise + planes.place_variance * slopes / n + uneven * uneven;
  const double bright = std::max(brightness / n, kDarkest);
  CellChange change;
  change.unlike = left / noise;
  change.tint = (tint - usual) / n / bright;
  change.tint_noise = 4.0 * std::max(compared.noise[1], compared.noise[2]) / std::sqrt(n / 4.0) / bright;
  change.light = factor;
  change.shade = factor * light / n;
  change.colour = tint / n / bright;
  return change;
}

// Cell by cell, row after row.
std::vector<CellChange> cell_changes(const ComparedPlanes& planes, const PictureCells& grid) {
  const cv::Size cells = grid.size();
  std::vector<CellChange> changes;
  changes.reserve(static_cast<std::size_t>(cells.area()));
  for (int r = 0; r < cells.height; ++r)
    for (int c = 0; c < cells.width; ++c)
      changes.push_back(change_within(planes, {c * grid.cell_px, r * grid.cell_px, grid.cell_px, grid.cell_px}));
  return changes;
}

// Chroma over the brightness, of what lies in the slots and was not there; none where hardly anything does.
Vector2d colour_of_blanks(const std::vector<CellChange>& changes, const cv::Mat1b& of_slots, double most_unlike) {
  std::vector<double> blue;
  std::vector<double> red;
  for (int r = 0; r < of_slots.rows; ++r)
    for (int c = 0; c < of_slots.cols; ++c) {
      const CellChange& change =
          changes[static_cast<std::size_t>(r) * static_cast<std::size_t>(of_slots.cols) + static_cast<std::size_t>(c)];
      if (of_slots(r, c) == 0 || change.unlike <= most_unlike || change.shade < kShade) continue;
      blue.push_back(change.colour.x());
      red.push_back(change.colour.y());
    }
  return {median(blue).value_or(0.0), median(red).value_or(0.0)};
}

// In a blank's shade lies the light that it throws, of its own colour: what differs from that is foreign.
double foreign_tint(const CellChange& change, const Vector2d& blanks) {
  const double thrown = blanks.norm();
  if (change.shade >= kShade || thrown < 1e-3) return change.tint.norm();
  const double own = std::max(change.tint.dot(blanks) / thrown, 0.0);
  return (change.tint - own * blanks / thrown).norm();
}

// How much is a change: four times what cells show in which no blank may lie, most of which are as they were.
void tell_changes(const std::vector<CellChange>& changes, ChangedCells& told) {
  const cv::Mat1b& beside = told.beside;
  constexpr double kOfUsual = 4.0;        // times what unchanged cells show
  constexpr double kDeepestShade = 0.45;  // of the light beside: a blank's own in a groove
  constexpr double kBrightest = 1.45;     // of the light beside: light thrown back by a pale blank adds no more
  constexpr double kForeignTint = 0.07;   // of the brightness: pale wood's own light tints less
  std::vector<double> unlike;
  std::vector<double> tints;
  for (std::size_t i = 0; i < changes.size(); ++i)
    if (beside.at<unsigned char>(static_cast<int>(i) / beside.cols, static_cast<int>(i) % beside.cols) != 0) {
      unlike.push_back(changes[i].unlike);
      tints.push_back(changes[i].tint.norm());
    }
  const double most_unlike = std::clamp(kOfUsual * median(unlike).value_or(1.0), 0.6, 4.0);
  const double most_tint = std::clamp(kOfUsual * median(tints).value_or(1.0), 0.015, 0.035);
  const Vector2d blanks = colour_of_blanks(changes, told.of_slots, most_unlike);
  for (int r = 0; r < beside.rows; ++r)
    for (int c = 0; c < beside.cols; ++c) {
      const CellChange& change =
          changes[static_cast<std::size_t>(r) * static_cast<std::size_t>(beside.cols) + static_cast<std::size_t>(c)];
      const bool tinted = change.tint.norm() > std::max(most_tint, change.tint_noise);
      const bool other_light = change.light < kDeepestShade || change.light > kBrightest;
      told.changed(r, c) = change.unlike > most_unlike || tinted || other_light ? 1 : 0;
      told.foreign(r, c) =
          foreign_tint(change, blanks) > std::max(kForeignTint, change.tint_noise) || change.light > kBrightest ? 1 : 0;
    }
}

}  // namespace

ChangedCells find_changes(const PlanePair& pair, const SlotRegions& regions, const Level& level,
                          const Compared& compared, double place_sigma_px) {
  constexpr int kFewest_px = 3;  // across a cell, or a light that varies linearly explains all of it
  ChangedCells told;
  told.cells = pair.pixels;
  told.cells.cell_px = std::max(static_cast<int>(std::lround(ChangedCells::kSide_mm * pair.px_per_mm)), kFewest_px);
  told.changed = cv::Mat1b::zeros(told.cells.size());
  told.foreign = cv::Mat1b::zeros(told.cells.size());
  told.of_slots = filled(regions.slots, told.cells);
  told.beside = filled({regions.among}, told.cells);
  told.beside.setTo(0, told.of_slots);
  tell_changes(cell_changes(compared_planes(pair, level, compared, place_sigma_px), told.cells), told);
  return told;
}

}  // namespace jigtrue::registration
