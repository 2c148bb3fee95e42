#include "jigtrue/measurement/measure_sizes.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/detection/propose_places.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <stdexcept>
#include <tuple>
#include <utility>
#include <variant>

#include "measurement/size_seen.hpp"
#include "measurement/size_trial.hpp"

namespace jigtrue {
namespace {

constexpr const char* kTolerance = "_tolerance_mm";

double height_of(const Slot& slot) { return outline_height_mm(slot.blank, slot.seat); }

// The least and the most of those that the mean is of.
std::pair<double, double> range_of(std::vector<double> values, const CommonMean& mean) {
  std::sort(values.begin(), values.end(),
            [&](double a, double b) { return std::abs(a - mean.mm) < std::abs(b - mean.mm); });
  values.resize(std::min(values.size(), static_cast<std::size_t>(mean.blanks)));
  const auto [least, most] = std::minmax_element(values.begin(), values.end());
  return {*least, *most};
}

// What the camera's covariance and the seat's height leave open of a distance on the bed, relative, 1 sigma: as all
// blanks have it in common, their number does not lessen it.
double scale_sigma(const Camera& camera, const SizeTrial& trial) {
  const Slot& kind = trial.like.kind;
  const double height = height_of(kind);
  const double above = std::max(camera.centre_mm().z() - height, 1.0);
  double variance = std::pow(kind.seat.height_tolerance_mm / std::sqrt(3.0) / above, 2);
  if (camera.covariance.size() == 0) return std::sqrt(variance);
  double largest = 0.0;
  for (const ScoutedPlace& place : trial.measured) {
    const Vector2d along = unit_vector(rad_from_deg(place.slot.axis_deg));
    const double half = 0.5 * length_mm(kind.blank.shape);
    MatrixXd difference;
    for (const double sign : {1.0, -1.0}) {
      const Vector2d mm = place.slot.centre_mm + sign * half * along;
      const auto projection = project_bed_point_with_jacobian(camera, {mm.x(), mm.y(), height});
      if (!projection) return std::sqrt(variance);
      const Matrix2d by_bed = projection->by_bed_point.leftCols<2>();
      const MatrixXd moves = -sign * along.transpose() * by_bed.inverse() * projection->by_camera;
      difference = difference.size() == 0 ? moves : MatrixXd(difference + moves);
    }
    largest = std::max(largest, (difference * camera.covariance * difference.transpose())(0) / std::pow(2.0 * half, 2));
  }
  return std::sqrt(variance + largest);
}

// Half-width of the uniform spread that the blanks and what is not known of their mean make up.
double tolerance_mm(const MeasuredSize& size, double least_mm) {
  constexpr double kStep_mm = 0.05;  // tolerances are written in halves of a tenth
  const double sigma = std::hypot(size.scatter_mm, size.u_mm / kCoverageFactor95);
  return std::max(least_mm, kStep_mm * std::ceil(std::sqrt(3.0) * sigma / kStep_mm));
}

// What the file leaves to the photo; beside further loads, what the photo of an earlier one told as well.
SizesAsked asked_of(const LikeFile& like, const std::string& json_text, const std::string& file_name,
                    std::size_t loads) {
  SizesAsked asked{json_text, file_name, like.to_measure, like.measured, false};
  if (!asked.fields.empty() || loads < 2) return asked;
  for (const std::string& field : asked.told)
    if (!field.ends_with(kTolerance)) asked.fields.push_back(field);
  asked.again = true;
  return asked;
}

// One of the sizes asked for, out of what the load's blanks measure. `scale`: scale_sigma of the load.
MeasuredSize measured_size(const SizesAsked& asked, const std::string& field, const SizeTrial& trial,
                           const LoadSizes& size, double scale) {
  const bool length = SizesAsked::is_length(field);
  const CommonMean& mean = length ? size.length : size.girth;
  const double own = length ? size.own_length_sigma_mm : size.own_girth_sigma_mm;
  MeasuredSize measured;
  measured.field = field;
  measured.mm = mean.mm;
  measured.scatter_mm = mean.scatter_mm;
  std::tie(measured.least_mm, measured.most_mm) = range_of(length ? size.lengths : size.girths, mean);
  measured.blanks = mean.blanks;
  // light and form do to all blanks what they do to one: their number does not lessen it
  measured.u_mm = kCoverageFactor95 * std::hypot(mean.u_mm, own, scale * mean.mm);
  const double girth = trial.girth_mm() + (length ? 0.0 : kSizeStep_mm);
  const double long_mm = trial.length_mm() + (length ? kSizeStep_mm : 0.0);
  measured.lift_mm = height_of(asked.like(girth, long_mm).kind) - height_of(trial.like.kind);
  measured.tolerance_mm = tolerance_mm(measured, length ? 0.5 : 0.1);
  return measured;
}

// Writes each size's tolerance into the file, but those that it declares itself; the fields that photos have told.
std::vector<std::string> add_tolerances(const SizesAsked& asked, bool plate, MeasuredSizes& result) {
  const auto tolerance_field = [&](const MeasuredSize& measured) {
    return (plate || SizesAsked::is_length(measured.field) ? "length" : "diameter") + std::string(kTolerance);
  };
  // a plate has one for both its sides
  std::stable_sort(result.sizes.begin(), result.sizes.end(),
                   [](const MeasuredSize& a, const MeasuredSize& b) { return a.tolerance_mm > b.tolerance_mm; });
  std::vector<std::string> told = asked.fields;
  for (const MeasuredSize& measured : result.sizes) {
    const std::string field = tolerance_field(measured);
    if (std::find(told.begin(), told.end(), field) != told.end()) continue;
    const bool again = std::find(asked.told.begin(), asked.told.end(), field) != asked.told.end();
    const std::string text = again ? with_size(result.json_text, field, measured.tolerance_mm)
                                   : with_tolerance(result.json_text, field, measured.tolerance_mm);
    if (again || text != result.json_text) told.push_back(field);
    result.json_text = text;
  }
  return told;
}

}  // namespace

MeasuredSizes measure_sizes(const std::vector<ScoutedLoad>& loads, const std::string& json_text,
                            const std::string& file_name, const ScoutOptions& options, EdgeModelStore& models) {
  if (loads.empty()) throw std::logic_error("measure_sizes: no photo");
  MeasuredSizes result{json_text, {}};
  const LikeFile like = read_like_to_measure(json_text, file_name);
  const SizesAsked asked = asked_of(like, json_text, file_name, loads.size());
  if (asked.fields.empty()) return result;
  const ScoutedLoad& load = loads.front();
  SizeTrial trial = asked.again ? SizeTrial{like, {}, 0.0} : size_seen(load, asked, options, models);
  for (std::size_t i = asked.again ? 0 : 1; i < loads.size(); ++i) {
    const LikeFile known = asked.like(trial.girth_mm(), trial.length_mm());
    const std::vector<ProposedPlace> places = plainest_places(loads[i], known.kind, options.threads);
    const SizeTrial more = tried_size(loads[i], known, kMeasuredWithin_mm, places, options, models);
    trial.measured.insert(trial.measured.end(), more.measured.begin(), more.measured.end());
  }
  const auto size = size_of_load(trial);
  if (!size || (asked.wanted().length && size->length.blanks == 0))
    throw input_error(load.photo.file,
                      "the " + std::to_string(trial.measured.size()) +
                          " blanks seen do not tell one size: they differ, or their ends are not seen",
                      "load blanks of one kind, or give the sizes by callipers");
  const double scale = scale_sigma(load.camera, trial);
  for (const std::string& field : asked.fields) {
    result.sizes.push_back(measured_size(asked, field, trial, *size, scale));
    result.json_text = with_size(result.json_text, field, result.sizes.back().mm);
  }
  const bool plate = std::holds_alternative<PlateBlank>(trial.like.kind.blank.shape);
  const std::vector<std::string> told = add_tolerances(asked, plate, result);
  result.json_text = with_measured(result.json_text, told);
  const Blank written = read_like(result.json_text, file_name).kind.blank;
  for (MeasuredSize& measured : result.sizes)
    measured.tolerance_mm =
        plate || SizesAsked::is_length(measured.field) ? written.length_tolerance_mm : written.diameter_tolerance_mm;
  return result;
}

std::string size_sentence(const MeasuredSize& size, const Camera& camera, const std::vector<ScoutedSlot>& slots) {
  const std::string name = size.field.substr(0, size.field.size() - 3);
  std::string text = name + " " + fixed_text(size.mm, 2) + " mm (+/- " + fixed_text(size.u_mm, 2) + "), by ";
  text += size.blanks == 1 ? "a single blank"
                           : std::to_string(size.blanks) + " blanks that measure " + fixed_text(size.least_mm, 2) +
                                 " to " + fixed_text(size.most_mm, 2) + " mm";
  text += "; tolerance " + fixed_text(size.tolerance_mm, 2) + " mm. ";
  double most = 0.0;
  std::string where;
  for (const ScoutedSlot& each : slots) {
    const Slot& slot = each.slot;
    const double height = height_of(slot);
    const Vector2d& at = slot.centre_mm;
    const auto px = project_bed_point(camera, {at.x(), at.y(), height});
    const auto higher = px ? bed_point_at(camera, *px, height + size.lift_mm) : std::nullopt;
    if (!higher) continue;
    const Vector2d across = turned_left(unit_vector(rad_from_deg(slot.axis_deg)));
    const double moved = std::holds_alternative<DiscBlank>(slot.blank.shape) ? (higher->mm - at).norm()
                                                                             : std::abs((higher->mm - at).dot(across));
    if (moved <= most) continue;
    most = moved;
    where = slot.id;
  }
  const std::string step = fixed_text(kSizeStep_mm, 1) + " mm more of it ";
  const std::string side = SizesAsked::is_length(size.field)
                               ? fixed_text(0.5 * kSizeStep_mm, 2) + " mm along where an end is hidden"
                               : fixed_text(0.5 * kSizeStep_mm, 2) + " mm across where a side is hidden";
  if (std::abs(size.lift_mm) < 1e-6) return text + step + "would move no offset but by " + side + ".";
  return text + step + "would " + (size.lift_mm > 0.0 ? "lift" : "lower") + " the axis by " +
         fixed_text(std::abs(size.lift_mm), 2) + " mm and move offsets across by up to " + fixed_text(most, 3) +
         " mm (slot " + where + "), and by " + side + ".";
}

}  // namespace jigtrue
