#include "jigtrue/target/jig_plan.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <variant>

#include "target/target_parts.hpp"

namespace jigtrue {
namespace {

constexpr double kLeastWall_mm = 2.0;  // of the sheet, between two openings
constexpr double kIdGap_mm = 3.0;      // between a stop and its id
constexpr double kMarkRoom_mm =
    2.0 * kJigMarkField_mm;  // from a mark's centre: its fields and as much white about them

std::string short_mm(double value) { return short_number(value, 2) + " mm"; }

struct Box {
  Vector2d low = Vector2d::Constant(std::numeric_limits<double>::infinity());
  Vector2d high = Vector2d::Constant(-std::numeric_limits<double>::infinity());
  void hold(const Vector2d& point) {
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
};

Vector2d on_bed(const JigOpening& opening, const Vector2d& slot_mm) {
  return opening.centre_mm + Eigen::Rotation2Dd(rad_from_deg(opening.axis_deg)) * slot_mm;
}

// The box of an opening and of its id before it.
std::array<Vector2d, 4> corners(const JigOpening& opening, bool with_id) {
  const Vector2d low(opening.low_mm.x() - (with_id ? kIdGap_mm + kJigIdWidth_mm : 0.0), opening.low_mm.y());
  const Vector2d& high = opening.high_mm;
  return {on_bed(opening, low), on_bed(opening, {high.x(), low.y()}), on_bed(opening, high),
          on_bed(opening, {low.x(), high.y()})};
}

// How far two turned boxes lie apart along that side of either on which they do most (the separating axis theorem);
// negative where they overlap.
double gap_mm(const JigOpening& a, const JigOpening& b) {
  const auto of_a = corners(a, true);
  const auto of_b = corners(b, true);
  double widest = -std::numeric_limits<double>::infinity();
  for (const double axis_deg : {a.axis_deg, a.axis_deg + 90.0, b.axis_deg, b.axis_deg + 90.0}) {
    const Vector2d axis = unit_vector(rad_from_deg(axis_deg));
    const auto span = [&](const std::array<Vector2d, 4>& points) {
      Box box;
      for (const Vector2d& point : points) box.hold({axis.dot(point), 0.0});
      return std::pair{box.low.x(), box.high.x()};
    };
    const auto [low_a, high_a] = span(of_a);
    const auto [low_b, high_b] = span(of_b);
    widest = std::max({widest, low_b - high_a, low_a - high_b});
  }
  return widest;
}

JigOpening box_opening(const Slot& slot, const Vector2d& low, const Vector2d& high, double radius_mm) {
  JigOpening opening;
  opening.slot_id = slot.id;
  opening.centre_mm = slot.centre_mm;
  opening.axis_deg = slot.axis_deg;
  opening.low_mm = low;
  opening.high_mm = high;
  opening.corner_radius_mm = radius_mm;
  return opening;
}

// Both sides of a profile (distance from the start, half width), from -length / 2 on.
JigOpening profile_opening(const Slot& slot, const std::vector<Vector2d>& half_widths) {
  JigOpening opening = box_opening(slot, Vector2d::Zero(), Vector2d::Zero(), 0.0);
  const double middle = length_mm(slot.blank.shape) / 2.0;
  opening.outline.reserve(2 * half_widths.size());
  for (const Vector2d& at : half_widths) opening.outline.emplace_back(at.x() - middle, -at.y());
  const std::vector<Vector2d> back(half_widths.rbegin(), half_widths.rend());
  for (const Vector2d& at : back) opening.outline.emplace_back(at.x() - middle, at.y());
  Box box;
  for (const Vector2d& point : opening.outline) box.hold(point);
  opening.low_mm = box.low;
  opening.high_mm = box.high;
  return opening;
}

class Openings {
 public:
  Openings(const JigFit& fit, std::vector<std::string>& notes)
      : play_(fit.play_mm), inset_(fit.kerf_mm / 2.0), notes_(notes) {}

  [[nodiscard]] JigOpening of(const Slot& slot) {
    if (const auto* vee = std::get_if<VeeSeat>(&slot.seat.kind)) return groove(slot, *vee);
    if (const auto* axis = std::get_if<AxisSeat>(&slot.seat.kind); axis != nullptr && !is_flat(slot.blank.shape))
      return on_edges(slot, *axis);
    const double floor_mm = floor_of(slot);
    note(floor_mm < -0.005  ? "The blanks lie " + short_mm(-floor_mm) + " below the bed's surface: mend the seat."
         : floor_mm < 0.005 ? "The slots are cut through: the blanks lie on the bed."
                            : "The slots need a floor " + short_mm(floor_mm) +
                                  " above the bed: a sheet of that thickness under the jig, uncut.");
    return pocket(slot);
  }

 private:
  double play_;
  double inset_;
  std::vector<std::string>& notes_;

  void note(const std::string& text) {
    if (std::find(notes_.begin(), notes_.end(), text) == notes_.end()) notes_.push_back(text);
  }

  static double floor_of(const Slot& slot) {
    if (const auto* floor = std::get_if<FloorSeat>(&slot.seat.kind)) return floor->height_mm;
    return std::get<AxisSeat>(slot.seat.kind).height_mm - top_face_mm(slot.blank.shape, {FloorSeat{0.0}, {}, 0.0});
  }

  // The blank's own outline seen from above, its start on the stop.
  [[nodiscard]] JigOpening pocket(const Slot& slot) const {
    const double side = play_ - inset_;
    if (const auto* disc = std::get_if<DiscBlank>(&slot.blank.shape)) {
      const double radius = disc->diameter_mm / 2.0 + side;
      return box_opening(slot, Vector2d::Constant(-radius), Vector2d::Constant(radius), radius);
    }
    const double half = length_mm(slot.blank.shape) / 2.0;
    if (const auto* turned = std::get_if<TurnedBlank>(&slot.blank.shape)) {
      std::vector<Vector2d> widths;
      for (const ProfilePoint& point : turned->profile)
        widths.emplace_back(point.distance_mm, point.diameter_mm / 2.0 + side);
      widths.front().x() += inset_;
      widths.emplace_back(2.0 * half + side, widths.back().y());
      return profile_opening(slot, widths);
    }
    const auto* plate = std::get_if<PlateBlank>(&slot.blank.shape);
    const double across = largest_girth_mm(slot.blank.shape) / 2.0 + side;
    const double radius = plate != nullptr ? plate->corner_radius_mm : 0.0;
    return box_opening(slot, {-half + inset_, -across}, {half + side, across}, radius);
  }

  [[nodiscard]] JigOpening groove(const Slot& slot, const VeeSeat& vee) {
    const double half_angle = rad_from_deg(vee.angle_deg / 2.0);
    const double across = (*slot.seat.top_mm - vee.bottom_mm) * std::tan(half_angle);
    const double touch = largest_girth_mm(slot.blank.shape) / 2.0 * std::cos(half_angle);
    if (across < touch)
      throw input_error("slot " + slot.id,
                        "its vee is " + short_mm(2.0 * across) + " wide at top_mm, and the blank touches it at " +
                            short_mm(2.0 * touch),
                        "make the vee deeper, or top_mm higher");
    note("Blue lines are the mouths of vees of " + short_number(vee.angle_deg, 1) + " degrees, " +
         short_mm(*slot.seat.top_mm - vee.bottom_mm) +
         " deep: a beam cuts upright walls, so mill them, or glue two bevelled strips along the lines.");
    const double half = length_mm(slot.blank.shape) / 2.0;
    return box_opening(slot, {-half + inset_, -across + inset_}, {half + play_ - inset_, across - inset_}, 0.0);
  }

  // A level axis: the blank rests on the edges of the section that the top face cuts from it. How far it sinks when the
  // section is wider by dw at each side: dw w / lift, with w half its width and lift the axis above the top face.
  [[nodiscard]] JigOpening on_edges(const Slot& slot, const AxisSeat& axis) {
    constexpr double kSinks = 2.0;  // mm a mm: more, and what the beam takes off would settle the height
    const std::vector<Vector2d> profile = radius_profile(slot.blank.shape);
    const double lift = axis.height_mm - *slot.seat.top_mm;
    const double radius = largest_girth_mm(slot.blank.shape) / 2.0;
    const double width = std::sqrt(std::max(radius * radius - lift * lift, 0.0));
    if (lift >= radius)
      throw input_error("slot " + slot.id, "the whole blank lies above top_mm: no opening would hold it",
                        "mend axis_height_mm or top_mm");
    if (lift <= 0.0 || width / lift > kSinks) {
      note("What carries the blanks, their axis " + short_mm(axis.height_mm) +
           " above the bed, is yours to make: the slots hold them at their sides only.");
      return pocket(slot);
    }
    note("The blanks rest on their slots' edges: where the beam takes 0.1 mm more off each edge they lie " +
         short_mm(0.1 * width / lift) +
         " lower. Cut, lay one in, measure its crown above the bed, and write that as crown_mm.");
    std::vector<Vector2d> widths;
    for (std::size_t i = 0; i + 1 < profile.size(); ++i) {
      constexpr int kPieces = 24;  // the section of a cone is a hyperbola
      for (int k = 0; k < kPieces + int{i + 2 == profile.size()}; ++k) {
        const Vector2d at = profile[i] + (profile[i + 1] - profile[i]) * k / kPieces;
        const double square = at.y() * at.y() - lift * lift;
        if (square > inset_ * inset_) widths.emplace_back(at.x(), std::sqrt(square) - inset_);
      }
    }
    widths.front().x() += inset_;
    widths.back().x() += play_ - inset_;
    return profile_opening(slot, widths);
  }
};

double common_top_mm(const Fixture& fixture) {
  for (const Slot& slot : fixture.slots) {
    if (!slot.seat.top_mm)
      throw input_error("slot " + slot.id, "its seat has no top_mm: how thick the sheet is that the jig is cut from",
                        "give top_mm, the sheet's top face above the bed");
    if (*slot.seat.top_mm != *fixture.slots.front().seat.top_mm)
      throw input_error("slot " + slot.id,
                        "its top_mm is " + short_mm(*slot.seat.top_mm) + ", that of slot " + fixture.slots.front().id +
                            " " + short_mm(*fixture.slots.front().seat.top_mm),
                        "one sheet has one top face: give all slots the same");
  }
  return *fixture.slots.front().seat.top_mm;
}

void refuse_thin_walls(const std::vector<JigOpening>& openings) {
  for (std::size_t i = 0; i < openings.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      const double gap = gap_mm(openings[j], openings[i]);
      if (gap < kLeastWall_mm)
        throw input_error("slots " + openings[j].slot_id + " and " + openings[i].slot_id,
                          gap < 0.0 ? "their openings and ids overlap by " + short_mm(-gap)
                                    : "their openings and ids leave only " + short_mm(gap) + " of the sheet",
                          "a pitch larger by " + short_mm(kLeastWall_mm - gap) + " leaves enough");
    }
  }
}

// Two on the right, three on the left, at heights of which no two are shared when the sheet is turned about: of a
// rectangle no photo could tell which way up it is.
std::vector<Vector3d> uneven_marks(const Box& inner, double top_mm) {
  constexpr double kLeastDepth_mm = 96.0;  // three marks and their white, one above the other
  const double deeper = std::max(kLeastDepth_mm - (inner.high.y() - inner.low.y()), 0.0) / 2.0;
  const double front = inner.low.y() - deeper;
  const double depth = inner.high.y() + deeper - front;
  const double left = inner.low.x() - kMarkRoom_mm;
  const double right = inner.high.x() + kMarkRoom_mm;
  return {{left, front, top_mm},
          {left, front + 0.4 * depth, top_mm},
          {left, front + depth, top_mm},
          {right, front + 0.2 * depth, top_mm},
          {right, front + depth, top_mm}};
}

void refuse_off_bed(const JigPlan& plan) {
  const Vector2d from = plan.machine.front_left_mm();
  const Vector2d to = from + plan.machine.bed_mm;
  if ((plan.low_mm.array() >= from.array()).all() && (plan.high_mm.array() <= to.array()).all()) return;
  const Vector2d size = plan.high_mm - plan.low_mm;
  throw input_error("--jig",
                    "the sheet, " + fixed_text(size.x(), 0) + " x " + fixed_text(size.y(), 0) + " mm from X " +
                        fixed_text(plan.low_mm.x(), 0) + ", Y " + fixed_text(plan.low_mm.y(), 0) +
                        ", reaches beyond the bed of " + fixed_text(plan.machine.bed_mm.x(), 0) + " x " +
                        fixed_text(plan.machine.bed_mm.y(), 0) + " mm",
                    "take fewer slots or a smaller pitch, or move them");
}

}  // namespace

std::vector<Slot> slots_in_rows(const Slot& kind, const SlotRows& rows, const Machine& machine) {
  if (rows.rows > 1 && !rows.row_pitch_mm)
    throw input_error("--rows", "how far apart the rows lie is not said", "give --pitch in mm");
  if (rows.columns > 1 && !rows.column_pitch_mm)
    throw input_error("--columns", "how far apart the columns lie is not said", "give --column-pitch in mm");
  const Vector2d step(rows.column_pitch_mm.value_or(0.0), rows.row_pitch_mm.value_or(0.0));
  const Vector2d middle = machine.front_left_mm() + machine.bed_mm / 2.0;
  std::vector<Slot> slots;
  for (int row = 0; row < rows.rows; ++row) {
    for (int column = 0; column < rows.columns; ++column) {
      Slot slot = kind;
      slot.id = std::to_string(slots.size() + 1);
      slot.axis_deg = 0.0;
      slot.centre_mm =
          middle + step.cwiseProduct(Vector2d(column - (rows.columns - 1) / 2.0, row - (rows.rows - 1) / 2.0));
      slots.push_back(slot);
    }
  }
  return slots;
}

JigPlan jig_plan(const Fixture& fixture, const Machine& machine, const JigFit& fit) {
  JigPlan plan;
  plan.name = fixture.name;
  plan.machine = machine;
  plan.kerf_mm = fit.kerf_mm;
  const double top_mm = common_top_mm(fixture);
  plan.notes.push_back("The sheet's top face must lie " + short_mm(top_mm) + " above the bed.");
  Openings openings(fit, plan.notes);
  plan.openings.reserve(fixture.slots.size());
  Box inner;
  for (const Slot& slot : fixture.slots) {
    JigOpening opening = openings.of(slot);
    opening.id_place_mm = {opening.low_mm.x() - kIdGap_mm - kJigIdWidth_mm / 2.0, 0.0};
    for (const Vector2d& corner : corners(opening, true)) inner.hold(corner);
    plan.openings.push_back(std::move(opening));
  }
  refuse_thin_walls(plan.openings);
  plan.own_marks = !fixture.marks_mm.empty();
  plan.marks_mm = plan.own_marks ? fixture.marks_mm : uneven_marks(inner, top_mm);
  Box sheet;
  for (const Vector2d& corner : {inner.low, inner.high}) sheet.hold(corner);
  for (const Vector3d& mark : plan.marks_mm) {
    sheet.hold(mark.head<2>() - Vector2d::Constant(kMarkRoom_mm));
    sheet.hold(mark.head<2>() + Vector2d::Constant(kMarkRoom_mm));
  }
  plan.low_mm = sheet.low;
  plan.high_mm = sheet.high;
  refuse_off_bed(plan);
  return plan;
}

}  // namespace jigtrue
