#include "jigtrue/measurement/measure_sizes.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/detection/propose_places.hpp"
#include "jigtrue/detection/propose_sizes.hpp"
#include "jigtrue/measurement/common_sizes.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <stdexcept>
#include <tuple>
#include <utility>

#include "measurement/blank_search.hpp"

namespace jigtrue {
namespace {

constexpr const char* kTolerance = "_tolerance_mm";

// What the file leaves to be measured, and where it stands there.
struct Asked {
  std::string text;
  std::string file;
  std::vector<std::string> fields;
  std::vector<std::string> told;  // by photos of earlier loads, tolerances too
  bool again = false;             // it is those that are asked

  [[nodiscard]] static bool is_length(const std::string& field) { return field == "length_mm" || field == "width_mm"; }
  [[nodiscard]] SizesWanted wanted() const {
    SizesWanted wanted;
    for (const std::string& field : fields) (is_length(field) ? wanted.length : wanted.girth) = true;
    return wanted;
  }
  // The file with these sizes in place of "measure".
  [[nodiscard]] std::string with(double girth_mm, double length_mm) const {
    std::string written = text;
    for (const std::string& field : fields)
      written = with_size(written, field, is_length(field) ? length_mm : girth_mm);
    return written;
  }
  [[nodiscard]] LikeFile like(double girth_mm, double length_mm) const {
    return read_like(with(girth_mm, length_mm), file);
  }
};

struct LoadSize {
  CommonMean girth;  // of one blank: itself, its own half-width for scatter and mean alike
  CommonMean length;
  double own_girth_sigma_mm = 0.0;  // of a single blank, about: what the blanks' number does not lessen
  double own_length_sigma_mm = 0.0;
  std::vector<double> girths;  // that each blank has
  std::vector<double> lengths;
};

// What came of one supposed size.
struct Trial {
  LikeFile like;
  std::vector<ScoutedPlace> measured;
  double evidence = 0.0;
  [[nodiscard]] double girth_mm() const { return largest_girth_mm(like.kind.blank.shape); }
  [[nodiscard]] double length_mm() const { return jigtrue::length_mm(like.kind.blank.shape); }
};

// Judges these places, supposing this size.
Trial tried(const ScoutedLoad& load, LikeFile like, double within_mm, const std::vector<ProposedPlace>& places,
            const ScoutOptions& options, EdgeModelStore& models) {
  Trial trial{std::move(like), {}, 0.0};
  Blank& blank = trial.like.kind.blank;
  blank.diameter_tolerance_mm = std::min(within_mm, 0.1 * trial.girth_mm());
  blank.length_tolerance_mm = std::max(blank.length_tolerance_mm, 2.0 * within_mm);
  const Scout scout{load.photo, load.camera, load.lens_error_px, trial.like, options, models};
  BlankSearch search(scout);
  search.judge(places);
  trial.measured = search.blanks();
  for (const ScoutedPlace& other : search.others())
    if (other.measured.state == SlotState::mismatch && other.measured.numbers &&
        other.measured.log_ratio >= kMoreThanChanceOnBed)
      trial.measured.push_back(other);
  // edges of a highlight, a groove or a gap have the same surface on either side
  std::erase_if(trial.measured, [](const ScoutedPlace& place) { return place.measured.two_materials < 0.0; });
  for (const ScoutedPlace& place : trial.measured)
    trial.evidence += place.measured.log_ratio + place.measured.two_materials;
  return trial;
}

// Where the blanks lie that were measured.
std::vector<ProposedPlace> places_of(const Trial& trial) {
  std::vector<ProposedPlace> places;
  places.reserve(trial.measured.size());
  for (const ScoutedPlace& blank : trial.measured)
    places.push_back({{blank.slot.centre_mm, rad_from_deg(blank.slot.axis_deg)}, blank.support});
  std::stable_sort(places.begin(), places.end(),
                   [](const ProposedPlace& a, const ProposedPlace& b) { return a.support > b.support; });
  return places;
}

// Blanks of this size on the whole bed: a dozen tell it.
std::vector<ProposedPlace> plainest_places(const ScoutedLoad& load, const Slot& kind, int threads) {
  constexpr std::size_t kEnough = 12;  // places of one size that are measured for its mean
  auto places = BedSearch(load.photo, load.camera, kind.blank, kind.seat, threads).declared();
  if (places.size() > kEnough) places.resize(kEnough);
  return places;
}

std::optional<CommonMean> of_all(const std::optional<CommonMean>& common, const std::vector<double>& values,
                                 double own_sigma_mm) {
  if (common || values.size() != 1) return common;
  CommonMean single;
  single.mm = values.front();
  single.u_mm = own_sigma_mm;
  single.blanks = 1;
  return single;
}

// Nothing where the blanks do not agree, or where their ends are not seen.
std::optional<LoadSize> size_of(const Trial& trial) {
  Fixture fixture;
  std::vector<SlotResult> results;
  std::vector<double> girths;
  std::vector<double> girth_sigmas;
  std::vector<double> lengths;
  std::vector<double> length_sigmas;
  for (const ScoutedPlace& place : trial.measured) {
    SlotResult result = place.measured;
    if (!result.girth) continue;
    result.numbers->diameter_mm = result.girth->mm;
    result.numbers->uncertainty.diameter_mm = kCoverageFactor95 * result.girth->sigma_mm;
    girths.push_back(result.girth->mm);
    girth_sigmas.push_back(result.girth->sigma_mm);
    if (result.length && result.length->own_mm) {
      lengths.push_back(*result.length->own_mm);
      length_sigmas.push_back(result.length->own_sigma_mm);
    }
    fixture.slots.push_back(place.slot);
    results.push_back(std::move(result));
  }
  if (results.empty()) return std::nullopt;
  const CommonSize common = common_sizes(fixture, results).front();
  LoadSize size;
  size.own_girth_sigma_mm = median(girth_sigmas).value_or(0.0);
  size.own_length_sigma_mm = median(length_sigmas).value_or(0.0);
  const auto girth = of_all(common.diameter, girths, size.own_girth_sigma_mm);
  const auto length = of_all(common.length, lengths, size.own_length_sigma_mm);
  if (!girth) return std::nullopt;
  size.girth = *girth;
  size.girths = girths;
  size.lengths = lengths;
  if (length) size.length = *length;
  return size;
}

constexpr double kWithin_mm = 0.4;  // of a size that has been measured once

// Supposed sizes are off by a millimetre or so: each is measured at a few places, supposed as measured, and measured
// again wherever such a blank may lie.
Trial refined(const ScoutedLoad& load, const Asked& asked, Trial trial, const ScoutOptions& options,
              EdgeModelStore& models) {
  constexpr int kRounds = 3;           // of measuring and looking anew with what was measured
  constexpr double kSettled_mm = 0.1;  // a step of what is told
  const SizesWanted wanted = asked.wanted();
  for (int round = 0; round < kRounds; ++round) {
    const auto size = size_of(trial);
    if (!size) break;
    const double girth = wanted.girth ? size->girth.mm : trial.girth_mm();
    const double length = wanted.length && size->length.blanks > 0 ? size->length.mm : trial.length_mm();
    if (round > 0 && std::abs(girth - trial.girth_mm()) < kSettled_mm &&
        std::abs(length - trial.length_mm()) < kSettled_mm)
      break;
    LikeFile like = asked.like(girth, length);
    const auto places = round == 0 ? plainest_places(load, like.kind, options.threads) : places_of(trial);
    trial = tried(load, std::move(like), kWithin_mm, places, options, models);
  }
  return trial;
}

// The least and the most of those that the mean is of.
std::pair<double, double> range_of(std::vector<double> values, const CommonMean& mean) {
  std::sort(values.begin(), values.end(),
            [&](double a, double b) { return std::abs(a - mean.mm) < std::abs(b - mean.mm); });
  values.resize(std::min(values.size(), static_cast<std::size_t>(mean.blanks)));
  const auto [least, most] = std::minmax_element(values.begin(), values.end());
  return {*least, *most};
}

std::string sizes_text(const Asked& asked, double girth_mm, double length_mm) {
  std::string text;
  for (const std::string& field : asked.fields)
    text += (text.empty() ? "" : ", ") + field + " " + fixed_text(Asked::is_length(field) ? length_mm : girth_mm, 1);
  return text;
}

// How many of these blanks have an outline of this other size inside their own: a pocket's outline has its blank's.
std::size_t inside_of(const Trial& outer, const ProposedSize& inner) {
  constexpr double kShorter_mm = 4.0;   // than a pocket at least: ends nearer to each other are one blank's
  constexpr double kProposed_mm = 2.0;  // as well as sizes and places are proposed
  constexpr double kAskew_deg = 4.0;    // as well as directions are proposed
  if (inner.length_mm > outer.length_mm() - kShorter_mm || inner.girth_mm > outer.girth_mm() + kProposed_mm) return 0;
  const double room_along = 0.5 * (outer.length_mm() - inner.length_mm) + kProposed_mm;
  const double room_across = 0.5 * std::max(outer.girth_mm() - inner.girth_mm, 0.0) + kProposed_mm;
  return static_cast<std::size_t>(
      std::count_if(outer.measured.begin(), outer.measured.end(), [&](const ScoutedPlace& blank) {
        return std::any_of(inner.places.begin(), inner.places.end(), [&](const ProposedPlace& place) {
          const Vector2d along = unit_vector(rad_from_deg(blank.slot.axis_deg));
          const Vector2d away = place.place.centre_mm - blank.slot.centre_mm;
          const double turn = std::remainder(deg_from_rad(place.place.heading_rad) - blank.slot.axis_deg, 180.0);
          return std::abs(away.dot(along)) < room_along && std::abs(away.dot(turned_left(along))) < room_across &&
                 std::abs(turn) < kAskew_deg;
        });
      }));
}

// The size that most of the picture speaks for. Throws where another one is spoken for about as much.
Trial size_seen(const ScoutedLoad& load, const Asked& asked, const ScoutOptions& options, EdgeModelStore& models) {
  constexpr double kSupposedWithin_mm = 1.0;  // of a proposed size the true one lies within
  constexpr double kAboutAsMuch = 0.8;        // of the support of the best: as evident
  constexpr std::size_t kFirstFew = 4;        // places of each size that are judged first
  constexpr double kWorthMeasuring = 0.3;     // of the most evident size's support
  const LikeFile like = read_like_to_measure(asked.text, asked.file);
  const auto alike = [](const Trial& a, const Trial& b) {
    return std::abs(a.girth_mm() - b.girth_mm()) < 0.5 && std::abs(a.length_mm() - b.length_mm()) < 1.0;
  };
  const auto most_evident_first = [](std::vector<Trial>& list) {
    std::stable_sort(list.begin(), list.end(), [](const Trial& a, const Trial& b) { return a.evidence > b.evidence; });
  };
  std::vector<Trial> supposed;
  const std::vector<ProposedSize> proposed =
      propose_sizes(load.photo, load.camera, like.kind.blank, like.kind.seat, asked.wanted(), options.threads);
  constexpr std::size_t kMostTried = 5;  // sizes that are tried
  for (std::size_t i = 0; i < std::min(proposed.size(), kMostTried); ++i) {
    const ProposedSize& size = proposed[i];
    std::vector<ProposedPlace> places = size.places;
    places.resize(std::min(places.size(), kFirstFew));
    Trial trial = tried(load, asked.like(size.girth_mm, size.length_mm), kSupposedWithin_mm, places, options, models);
    if (!trial.measured.empty()) supposed.push_back(std::move(trial));
  }
  most_evident_first(supposed);
  std::vector<Trial> trials;
  const double worth_measuring = supposed.empty() ? 0.0 : kWorthMeasuring * supposed.front().evidence;
  for (Trial& each : supposed) {
    if (trials.size() == 2 || each.evidence < worth_measuring) break;
    Trial trial = refined(load, asked, std::move(each), options, models);
    if (trial.measured.empty()) continue;  // seen of a supposed size, and not of the one measured
    if (std::none_of(trials.begin(), trials.end(), [&](const Trial& known) { return alike(known, trial); }))
      trials.push_back(std::move(trial));
  }
  most_evident_first(trials);
  if (trials.empty())
    throw input_error(load.photo.file, "no blank is seen whose size could be measured",
                      "see that the photo shows the loaded jig by this camera, or give the sizes by callipers");
  const auto refuse_either = [&](double girth_mm, double length_mm) {
    throw input_error(
        load.photo.file,
        "two sizes explain what is seen: " + sizes_text(asked, trials[0].girth_mm(), trials[0].length_mm()) + ", or " +
            sizes_text(asked, girth_mm, length_mm),
        "give the right one in the file, instead of \"measure\"");
  };
  if (trials.size() > 1 && trials[1].evidence > kAboutAsMuch * trials[0].evidence)
    refuse_either(trials[1].girth_mm(), trials[1].length_mm());
  for (const ProposedSize& size : proposed)
    if (asked.wanted().length && 2 * inside_of(trials[0], size) > trials[0].measured.size())
      refuse_either(size.girth_mm, size.length_mm);
  return std::move(trials.front());
}

double height_of(const Slot& slot) { return outline_height_mm(slot.blank, slot.seat); }

// What the camera's covariance and the seat's height leave open of a distance on the bed, relative, 1 sigma: as all
// blanks have it in common, their number does not lessen it.
double scale_sigma(const Camera& camera, const Trial& trial) {
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
Asked asked_of(const LikeFile& like, const std::string& json_text, const std::string& file_name, std::size_t loads) {
  Asked asked{json_text, file_name, like.to_measure, like.measured, false};
  if (!asked.fields.empty() || loads < 2) return asked;
  for (const std::string& field : asked.told)
    if (!field.ends_with(kTolerance)) asked.fields.push_back(field);
  asked.again = true;
  return asked;
}

}  // namespace

MeasuredSizes measure_sizes(const std::vector<ScoutedLoad>& loads, const std::string& json_text,
                            const std::string& file_name, const ScoutOptions& options, EdgeModelStore& models) {
  if (loads.empty()) throw std::logic_error("measure_sizes: no photo");
  MeasuredSizes result{json_text, {}};
  const LikeFile like = read_like_to_measure(json_text, file_name);
  const Asked asked = asked_of(like, json_text, file_name, loads.size());
  if (asked.fields.empty()) return result;
  const ScoutedLoad& load = loads.front();
  Trial trial = asked.again ? Trial{like, {}, 0.0} : size_seen(load, asked, options, models);
  for (std::size_t i = asked.again ? 0 : 1; i < loads.size(); ++i) {
    const LikeFile known = asked.like(trial.girth_mm(), trial.length_mm());
    const std::vector<ProposedPlace> places = plainest_places(loads[i], known.kind, options.threads);
    const Trial more = tried(loads[i], known, kWithin_mm, places, options, models);
    trial.measured.insert(trial.measured.end(), more.measured.begin(), more.measured.end());
  }
  const auto size = size_of(trial);
  if (!size || (asked.wanted().length && size->length.blanks == 0))
    throw input_error(load.photo.file,
                      "the " + std::to_string(trial.measured.size()) +
                          " blanks seen do not tell one size: they differ, or their ends are not seen",
                      "load blanks of one kind, or give the sizes by callipers");
  const double scale = scale_sigma(load.camera, trial);
  for (const std::string& field : asked.fields) {
    const bool length = Asked::is_length(field);
    const CommonMean& mean = length ? size->length : size->girth;
    const double own = length ? size->own_length_sigma_mm : size->own_girth_sigma_mm;
    MeasuredSize measured;
    measured.field = field;
    measured.mm = mean.mm;
    measured.scatter_mm = mean.scatter_mm;
    std::tie(measured.least_mm, measured.most_mm) = range_of(length ? size->lengths : size->girths, mean);
    measured.blanks = mean.blanks;
    // light and form do to all blanks what they do to one: their number does not lessen it
    measured.u_mm = kCoverageFactor95 * std::hypot(mean.u_mm, own, scale * mean.mm);
    const double girth = trial.girth_mm() + (length ? 0.0 : kSizeStep_mm);
    const double long_mm = trial.length_mm() + (length ? kSizeStep_mm : 0.0);
    measured.lift_mm = height_of(asked.like(girth, long_mm).kind) - height_of(trial.like.kind);
    measured.tolerance_mm = tolerance_mm(measured, length ? 0.5 : 0.1);
    result.json_text = with_size(result.json_text, field, measured.mm);
    result.sizes.push_back(measured);
  }
  const bool plate = std::holds_alternative<PlateBlank>(trial.like.kind.blank.shape);
  const auto tolerance_field = [&](const MeasuredSize& measured) {
    return (plate || Asked::is_length(measured.field) ? "length" : "diameter") + std::string(kTolerance);
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
  result.json_text = with_measured(result.json_text, told);
  const Blank written = read_like(result.json_text, file_name).kind.blank;
  for (MeasuredSize& measured : result.sizes)
    measured.tolerance_mm =
        plate || Asked::is_length(measured.field) ? written.length_tolerance_mm : written.diameter_tolerance_mm;
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
  const std::string side = Asked::is_length(size.field)
                               ? fixed_text(0.5 * kSizeStep_mm, 2) + " mm along where an end is hidden"
                               : fixed_text(0.5 * kSizeStep_mm, 2) + " mm across where a side is hidden";
  if (std::abs(size.lift_mm) < 1e-6) return text + step + "would move no offset but by " + side + ".";
  return text + step + "would " + (size.lift_mm > 0.0 ? "lift" : "lower") + " the axis by " +
         fixed_text(std::abs(size.lift_mm), 2) + " mm and move offsets across by up to " + fixed_text(most, 3) +
         " mm (slot " + where + "), and by " + side + ".";
}

}  // namespace jigtrue
