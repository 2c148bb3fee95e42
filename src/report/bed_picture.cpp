#include "report/bed_picture.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/calibration/declared_slips.hpp"
#include "jigtrue/image/write_picture.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "report/base64.hpp"
#include "report/calibration_parts.hpp"
#include "report/photo_part.hpp"

namespace jigtrue::page {

namespace {

std::string mm_text(double mm) { return fixed_text(mm, std::abs(mm - std::round(mm)) < 0.005 ? 0 : 2); }

// What of the bed the picture shows.
struct Seen {
  Vector2d low_mm = Vector2d::Constant(1e9);
  Vector2d high_mm = Vector2d::Constant(-1e9);
  double step_mm = 50.0;
};

class BedView {
 public:
  BedView(const Camera& camera, const std::vector<Vector3d>& points_mm) : camera_(camera) {
    // not beyond where it means anything: an oblique camera sees the horizon
    Vector2d low = Vector2d::Constant(1e9);
    Vector2d high = Vector2d::Constant(-1e9);
    for (const Vector3d& p : points_mm) {
      low = low.cwiseMin(p.head<2>());
      high = high.cwiseMax(p.head<2>());
    }
    const double reach = 4.0 * (high - low).maxCoeff() + 100.0;
    constexpr int kSteps = 24;
    for (int i = 0; i <= kSteps; ++i)
      for (int j = 0; j <= kSteps; ++j) {
        const Vector2d px((width() - 1.0) * i / kSteps, (height() - 1.0) * j / kSteps);
        const auto bed = bed_point_at(camera_, px, 0.0);
        if (!bed || (bed->mm.array() < low.array() - reach).any() || (bed->mm.array() > high.array() + reach).any())
          continue;
        seen_.low_mm = seen_.low_mm.cwiseMin(bed->mm);
        seen_.high_mm = seen_.high_mm.cwiseMax(bed->mm);
      }
    if (!(seen_.high_mm.array() > seen_.low_mm.array()).all()) {
      seen_.low_mm = low;
      seen_.high_mm = high;
    }
    const double span = (seen_.high_mm - seen_.low_mm).maxCoeff();
    constexpr double kMostLines = 14.0;
    for (const double step : {1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0}) {
      seen_.step_mm = step;
      if (span <= kMostLines * step) break;
    }
  }
  [[nodiscard]] double width() const { return camera_.lens.width_px; }
  [[nodiscard]] double height() const { return camera_.lens.height_px; }
  [[nodiscard]] const Seen& seen() const { return seen_; }
  [[nodiscard]] std::optional<Vector2d> at(const Vector2d& mm, double height_mm = 0.0) const {
    return project_bed_point(camera_, {mm.x(), mm.y(), height_mm});
  }
  [[nodiscard]] bool shows(const Vector2d& px, double margin) const {
    return px.x() >= margin && px.y() >= margin && px.x() <= width() - 1.0 - margin &&
           px.y() <= height() - 1.0 - margin;
  }
  // Where a straight line of the bed runs in the picture: distortion bends it.
  [[nodiscard]] std::string line(const Vector2d& from_mm, const Vector2d& to_mm, double height_mm = 0.0) const {
    constexpr int kSteps = 60;
    std::string path;
    bool pen_down = false;
    for (int i = 0; i <= kSteps; ++i) {
      const auto px = at(from_mm + (to_mm - from_mm) * i / kSteps, height_mm);
      const bool seen = px && shows(*px, -0.05 * width());
      if (seen) path += (pen_down ? "L" : "M") + coordinate(px->x()) + " " + coordinate(px->y());
      pen_down = seen;
    }
    return path;
  }

 private:
  const Camera& camera_;
  Seen seen_;
};

std::string cased(const char* css_class, const std::string& path) {
  return path.empty() ? std::string()
                      : std::string("<path class=\"under\" d=\"") + path + "\"/><path class=\"" + css_class +
                            "\" d=\"" + path + "\"/>";
}

std::string label_at(const char* css_class, const Vector2d& at, const std::string& text,
                     const char* anchor = "middle") {
  return std::string("<text class=\"") + css_class + "\" text-anchor=\"" + anchor + "\" x=\"" + coordinate(at.x()) +
         "\" y=\"" + coordinate(at.y()) + "\">" + markup_text(text) + "</text>";
}

// Words that stay inside the picture: near its sides they run inwards.
std::string label_inside(const BedView& view, const char* css_class, const Vector2d& at, const std::string& text) {
  const double share = at.x() / view.width();
  const Vector2d inside(std::clamp(at.x(), 0.01 * view.width(), 0.99 * view.width()),
                        std::clamp(at.y(), 0.02 * view.width(), view.height() - 0.02 * view.width()));
  return label_at(css_class, inside, text, share < 0.2 ? "start" : (share > 0.8 ? "end" : "middle"));
}

// The first place along a line, from its start, that lies well inside the picture.
std::optional<Vector2d> first_inside(const BedView& view, const Vector2d& from_mm, const Vector2d& to_mm,
                                     double margin) {
  constexpr int kSteps = 200;
  for (int i = 0; i <= kSteps; ++i) {
    auto px = view.at(from_mm + (to_mm - from_mm) * i / kSteps);
    if (px && view.shows(*px, margin)) return px;
  }
  return std::nullopt;
}

std::string bed_grid(const BedView& view) {
  const Seen& seen = view.seen();
  const double margin = 0.03 * view.width();
  std::string lines;
  std::string labels;
  for (const int axis : {0, 1}) {
    const int other = 1 - axis;
    const double first = std::ceil(seen.low_mm[axis] / seen.step_mm) * seen.step_mm;
    for (double value = first; value <= seen.high_mm[axis]; value += seen.step_mm) {
      Vector2d from;
      Vector2d to;
      from[axis] = to[axis] = value;
      from[other] = seen.low_mm[other];
      to[other] = seen.high_mm[other];
      lines += view.line(from, to);
      // the front's own words stand at the other end
      if (const auto px = axis == 0 ? first_inside(view, to, from, margin) : first_inside(view, from, to, margin))
        labels += label_at(axis == 0 ? "along-x" : "along-y", *px, mm_text(value));
    }
  }
  return cased("grid", lines) + labels;
}

std::string bed_arrow(const char* css_class, const Vector2d& from, const Vector2d& to) {
  const Vector2d along = to - from;
  const double size = std::min(0.35 * along.norm(), 0.35 * 90.0 + 0.1 * along.norm());
  const Vector2d ahead = along.normalized() * size;
  const Vector2d aside(-0.5 * ahead.y(), 0.5 * ahead.x());
  const auto at = [](const Vector2d& p) { return coordinate(p.x()) + " " + coordinate(p.y()); };
  return cased(css_class, "M" + at(from) + "L" + at(to) + "M" + at(to - ahead + aside) + "L" + at(to) + "L" +
                              at(to - ahead - aside));
}

// X and Y from the machine's zero, or from the grid's crossing nearest to it when that is not in the picture.
std::string bed_axes(const BedView& view) {
  const Seen& seen = view.seen();
  const double margin = 0.06 * view.width();
  std::optional<Vector2d> origin;
  const auto first = [&](int axis) { return std::ceil(seen.low_mm[axis] / seen.step_mm) * seen.step_mm; };
  for (double x = first(0); x <= seen.high_mm.x(); x += seen.step_mm)
    for (double y = first(1); y <= seen.high_mm.y(); y += seen.step_mm) {
      const auto px = view.at({x, y});
      if (px && view.shows(*px, margin) && (!origin || Vector2d(x, y).norm() < origin->norm())) origin = Vector2d(x, y);
    }
  if (!origin) return {};
  const auto px = view.at(*origin);
  std::string out;
  for (const int axis : {0, 1}) {
    Vector2d tip = *origin;
    tip[axis] += 1.6 * seen.step_mm;
    const auto to = view.at(tip);
    if (!to) continue;
    out += bed_arrow(axis == 0 ? "x" : "y", *px, *to) +
           label_inside(view, axis == 0 ? "x big" : "y big", *to + 0.28 * (*to - *px), axis == 0 ? "X" : "Y");
  }
  const bool zero = origin->norm() < 1e-9;
  out += "<circle class=\"zero\" cx=\"" + coordinate(px->x()) + "\" cy=\"" + coordinate(px->y()) + "\" r=\"" +
         coordinate(0.006 * view.width()) + "\"/>";
  const auto below = view.at(*origin - Vector2d(0.0, 0.3 * seen.step_mm));
  if (below)
    out += label_inside(view, "big", *below,
                        zero ? "the machine's zero" : "X " + mm_text(origin->x()) + ", Y " + mm_text(origin->y()));
  return out;
}

// Along that side of the picture where the bed's front lies.
std::string front_side(const BedView& view, const Camera& camera) {
  const Seen& seen = view.seen();
  std::string out;
  if (seen.low_mm.y() < 0.0 && seen.high_mm.y() > 0.0)
    out += cased("front", view.line({seen.low_mm.x(), 0.0}, {seen.high_mm.x(), 0.0}));
  const double inset = 0.03 * view.width();
  const Vector2d middle(0.5 * view.width(), 0.5 * view.height());
  Vector2d at = middle;
  int turn_deg = 0;
  switch (photo_stand(camera).top) {
    case PhotoTop::back:
      at.y() = view.height() - inset;
      break;
    case PhotoTop::front:
      at.y() = inset;
      break;
    case PhotoTop::right:  // the front lies a quarter turn clockwise of the right
      at.x() = view.width() - inset;
      turn_deg = -90;
      break;
    case PhotoTop::left:
      at.x() = inset;
      turn_deg = 90;
      break;
  }
  return out + "<g transform=\"translate(" + coordinate(at.x()) + " " + coordinate(at.y()) + ") rotate(" +
         std::to_string(turn_deg) +
         ")\"><text class=\"front big\" text-anchor=\"middle\">FRONT of the bed (small Y)</text></g>";
}

std::string circle_at(const char* css_class, const Vector2d& px, double radius) {
  return std::string("<circle class=\"") + css_class + "\" cx=\"" + coordinate(px.x()) + "\" cy=\"" +
         coordinate(px.y()) + "\" r=\"" + coordinate(radius) + "\"/>";
}

// In the board's own frame, mm: what of it was seen; the whole sheet's border too where every row and column was.
struct SeenBoard {
  Vector2d low = Vector2d::Constant(1e9);
  Vector2d high = Vector2d::Constant(-1e9);
};
SeenBoard seen_board(const PoseFit& pose, const BoardSpec& spec, const Rigid& bed_from_board) {
  SeenBoard seen;
  const Rigid back = bed_from_board.inverse();
  for (std::size_t i = 0; i < pose.first_count(); ++i) {
    const Vector2d mm = (back * pose.points_mm[i]).head<2>();
    seen.low = seen.low.cwiseMin(mm);
    seen.high = seen.high.cwiseMax(mm);
  }
  const Vector2d squares = (seen.high - seen.low) / spec.square_mm;
  const auto spans = [&](double columns, double rows) {
    return (squares - Vector2d(columns - 2.0, rows - 2.0)).cwiseAbs().maxCoeff() < 0.1;
  };
  if (!spans(spec.columns, spec.rows) && !spans(spec.rows, spec.columns)) return seen;
  seen.low -= Vector2d::Constant(spec.square_mm);
  seen.high += Vector2d::Constant(spec.square_mm);
  return seen;
}

// The board with the lengths that it is said to have, and the corner that was taken as its origin.
std::string declared_board(const BedView& view, const PoseFit& pose, const BoardSpec& spec,
                           const BoardPlacement& placement) {
  const Rigid bed_from = bed_from_board(placement);
  const SeenBoard seen = seen_board(pose, spec, bed_from);
  const Vector2d size = seen.high - seen.low;
  const auto place = [&](double x, double y) { return Vector2d((bed_from * Vector3d(x, y, 0.0)).head<2>()); };
  const std::array<Vector2d, 4> corners = {place(seen.low.x(), seen.low.y()), place(seen.high.x(), seen.low.y()),
                                           place(seen.high.x(), seen.high.y()), place(seen.low.x(), seen.high.y())};
  std::string outline;
  for (std::size_t i = 0; i < 4; ++i) outline += view.line(corners[i], corners[(i + 1) % 4], placement.height_mm);
  std::string out = cased("board", outline);
  const auto at = [&](double x, double y) { return view.at(place(x, y), placement.height_mm); };
  const double off = 0.1 * size.minCoeff();
  const Vector2d middle = 0.5 * (seen.low + seen.high);
  if (const auto px = at(middle.x(), seen.high.y() + off))
    out += label_inside(view, "board big", *px, mm_text(size.x()) + " mm");
  if (const auto px = at(seen.high.x() + off, middle.y()))
    out += label_inside(view, "board big", *px, mm_text(size.y()) + " mm");
  const auto origin = at(0.0, 0.0);
  const auto along = at(std::min(0.3 * size.x(), 3.0 * spec.square_mm), 0.0);
  if (origin && along) out += bed_arrow("board", *origin, *along);
  if (origin) {
    out += circle_at("board", *origin, 0.012 * view.width());
    out += label_inside(view, "board big", *origin + Vector2d(0.0, 0.035 * view.width()),
                        "board's origin: " + mm_text(placement.x_mm) + ", " + mm_text(placement.y_mm));
  }
  return out;
}

std::string placed_marks(const BedView& view, const PoseFit& pose) {
  std::string out;
  for (std::size_t i = 0; i < pose.first_count(); ++i) {
    out += circle_at("board", pose.px[i], 0.012 * view.width());
    out += label_inside(view, "board", pose.px[i] + Vector2d(0.0, 0.035 * view.width()),
                        mm_text(pose.points_mm[i].x()) + ", " + mm_text(pose.points_mm[i].y()));
  }
  return out;
}

std::string witnesses(const BedView& view, const CameraRecord& record) {
  std::string out;
  for (const WitnessMark& mark : record.witness) {
    out += circle_at("watch", mark.px, 0.014 * view.width());
    out += label_inside(view, "watch", mark.px - Vector2d(0.0, 0.034 * view.width()),
                        "mark " + mm_text(mark.nominal_mm.x()) + ", " + mm_text(mark.nominal_mm.y()));
  }
  return out;
}

}  // namespace

std::string bed_picture_style() {
  return R"css(
.bed{margin:.6rem 0}.bed svg{display:block;width:100%;height:auto;max-height:88vh;background:#0d1115;border-radius:.4rem}
.bed path,.bed circle{fill:none;vector-effect:non-scaling-stroke;stroke-linejoin:round;stroke-linecap:round}
.bed .under{stroke:#0d1115;stroke-opacity:.55;stroke-width:3.4px}
.bed .grid{stroke:#9be7ff;stroke-opacity:.8;stroke-width:1px}
.bed .x{stroke:#ff8f7a;stroke-width:3.4px}.bed .y{stroke:#8dfc8a;stroke-width:3.4px}
.bed .front{stroke:#ffe14a;stroke-width:3px}.bed .board{stroke:#ff9cf2;stroke-width:2.4px}
.bed .watch{stroke:#fff;stroke-width:2px}.bed .zero{fill:#fff;stroke:#0d1115;stroke-width:1px}
.bed text{font-weight:600;fill:#fff;stroke:#0d1115;stroke-width:.24em;stroke-linejoin:round;paint-order:stroke;
dominant-baseline:central;font-size:var(--small)}
.bed text.big{font-size:calc(1.25*var(--small));font-weight:700}
.bed text.along-x{fill:#ffc3b8}.bed text.along-y{fill:#c6ffc4}.bed text.x{fill:#ff8f7a}.bed text.y{fill:#8dfc8a}
.bed text.front{fill:#ffe14a}.bed text.board{fill:#ffc4f7}
.bed text.x,.bed text.y,.bed text.front,.bed text.board,.bed text.watch{stroke:#0d1115;stroke-width:.24em}
.bed figcaption{color:var(--soft);margin:.3rem 0}
@media (max-width:46rem){.bed text{font-size:var(--large)}.bed text.big{font-size:calc(1.15*var(--large))}}
)css";
}

std::string bed_picture(const PoseFit& pose, const CameraRecord& record, const PosePageInputs& inputs) {
  const BedView view(record.camera, pose.points_mm);
  const std::string width = coordinate(view.width());
  const std::string height = coordinate(view.height());
  std::string out = "<figure class=\"bed\"><svg role=\"img\" viewBox=\"-0.5 -0.5 " + width + " " + height +
                    "\" style=\"--small:" + coordinate(view.width() / 70.0) +
                    "px;--large:" + coordinate(view.width() / 34.0) +
                    "px\"><title>The photo with the bed drawn into it</title>";
  if (inputs.photo != nullptr)
    out += "<image x=\"-0.5\" y=\"-0.5\" width=\"" + width + "\" height=\"" + height +
           "\" preserveAspectRatio=\"none\" href=\"data:image/jpeg;base64," +
           base64(encode_jpeg(shrink(*inputs.photo, kPictureSide_px).bgr, 80)) + "\"/>";
  out += bed_grid(view) + front_side(view, record.camera);
  out += inputs.board && inputs.placement ? declared_board(view, pose, *inputs.board, *inputs.placement)
                                          : placed_marks(view, pose);
  out += witnesses(view, record) + bed_axes(view);
  return out + "</svg><figcaption>The bed, height 0, as this camera file has it: lines every " +
         mm_text(view.seen().step_mm) +
         " mm. Lay a rule on the bed in your mind: do X and Y run as on your machine, is the front where you stand, "
         "does "
         "the board lie and measure as drawn?</figcaption></figure>\n";
}

}  // namespace jigtrue::page
