#include "jigtrue/report/annotated_picture.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/report/standing.hpp"
#include "jigtrue/report/standing_style.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <sstream>

#include "report/draw.hpp"
#include "report/place_labels.hpp"

namespace jigtrue {

namespace {

using draw::Font;
using draw::Pen;

// All sizes follow from the picture's longer side, so that a small photo gets a small drawing.
struct Sizes {
  double unit = 1.0;
  Font font;
  Font strong;
  int line_px = 3;
  double gap_px = 10.0;
};

Sizes sizes_for(double unit) {
  Sizes sizes;
  sizes.unit = std::max(0.5, unit);
  sizes.font = {22.0 * sizes.unit, false};
  sizes.strong = {25.0 * sizes.unit, true};
  sizes.line_px = std::max(1, static_cast<int>(std::lround(3.0 * sizes.unit)));
  sizes.gap_px = 10.0 * sizes.unit;
  return sizes;
}

Polyline2d scaled(const Polyline2d& photo_px, double scale) {
  Polyline2d out;
  out.reserve(photo_px.size());
  for (const Vector2d& point : photo_px) {
    if (point.allFinite()) out.emplace_back((point.array() + 0.5) * scale - 0.5);
  }
  return out;
}

Vector2d middle(const Polyline2d& points) {
  Vector2d sum = Vector2d::Zero();
  for (const Vector2d& point : points) sum += point;
  return points.empty() ? sum : Vector2d(sum / static_cast<double>(points.size()));
}

// A slot's sketch in px of the picture.
struct Drawn {
  const SlotResult* slot = nullptr;
  const StandingStyle* style = nullptr;
  std::vector<Polyline2d> outline;
  Polyline2d centreline;
  Polyline2d design_box;
  std::vector<ArtLine> art;
  Polyline2d along;  // from where the arrows start to their tips; empty where they are not known
  Polyline2d across;
  Polyline2d all_outline_points;
  Vector2d label = Vector2d::Zero();
  Vector2d nominal = Vector2d::Zero();  // the design's place, or the middle of the blank where there is no design
  Vector2d corrected = Vector2d::Zero();
  bool moves = false;
};

// Along and across as arrows that start beyond the blank's end, where they hide nothing.
void add_axes(const SlotResult& slot, double scale, double length_px, Drawn& drawn) {
  const Polyline2d& line = slot.sketch.centreline.size() > 1 ? slot.sketch.centreline : slot.sketch.nominal_centreline;
  if (!slot.sketch.photo_from_design) return;
  const Matrix3d& map = *slot.sketch.photo_from_design;
  const auto at = [&](double along, double across) -> Vector2d {
    return (map * Vector3d(along, across, 1.0)).hnormalized();
  };
  const Vector2d origin = at(0.0, 0.0);
  const Vector2d along = (at(1.0, 0.0) - origin).normalized();
  const Vector2d across = (at(0.0, 1.0) - origin).normalized();
  double ahead = line.size() > 1 ? (line.back() - origin).dot(along) : 0.0;
  for (const Polyline2d& piece : slot.sketch.outline)
    for (const Vector2d& point : piece) ahead = std::max(ahead, (point - origin).dot(along));
  const Vector2d start = origin + (ahead + 0.4 * length_px / scale) * along;
  drawn.along = scaled({start, start + length_px / scale * along}, scale);
  drawn.across = scaled({start, start + 0.6 * length_px / scale * across}, scale);
}

Drawn drawn_from(const SlotResult& slot, double scale) {
  Drawn drawn;
  drawn.slot = &slot;
  drawn.style = &style_of(standing(slot));
  for (const Polyline2d& piece : slot.sketch.outline) {
    drawn.outline.push_back(scaled(piece, scale));
    const Polyline2d& points = drawn.outline.back();
    drawn.all_outline_points.insert(drawn.all_outline_points.end(), points.begin(), points.end());
  }
  drawn.centreline = scaled(slot.sketch.centreline, scale);
  drawn.design_box = scaled(slot.sketch.design_box, scale);
  for (const ArtLine& line : slot.sketch.art) drawn.art.push_back({scaled(line.px, scale), line.filled});
  const Polyline2d label = scaled({slot.sketch.label_px}, scale);
  drawn.label = label.empty() ? middle(drawn.all_outline_points) : label.front();
  const bool boxes = !slot.sketch.design_box.empty() && !slot.sketch.nominal_design_box.empty();
  const Polyline2d nominal = scaled(boxes ? slot.sketch.nominal_design_box : slot.sketch.nominal_centreline, scale);
  const Polyline2d& corrected = boxes ? drawn.design_box : drawn.centreline;
  drawn.nominal = middle(nominal);
  drawn.corrected = middle(corrected);
  drawn.moves = slot.state == SlotState::found && slot.numbers && !nominal.empty() && !corrected.empty();
  return drawn;
}

void move(Polyline2d& line, const Vector2d& by) {
  for (Vector2d& point : line) point += by;
}

void move(Drawn& drawn, const Vector2d& by) {
  for (Polyline2d& piece : drawn.outline) move(piece, by);
  for (ArtLine& line : drawn.art) move(line.px, by);
  for (Polyline2d* line : {&drawn.centreline, &drawn.design_box, &drawn.all_outline_points}) move(*line, by);
  for (Vector2d* point : {&drawn.label, &drawn.nominal, &drawn.corrected}) *point += by;
}

// All outlines, with room about them for the names.
cv::Rect about_the_slots(const CheckResult& result, const Photo& photo) {
  Vector2d low = Vector2d::Constant(1e9);
  Vector2d high = Vector2d::Constant(-1e9);
  for (const SlotResult& slot : result.slots)
    for (const Polyline2d& piece : slot.sketch.outline)
      for (const Vector2d& point : piece) {
        if (!point.allFinite()) continue;
        low = low.cwiseMin(point);
        high = high.cwiseMax(point);
      }
  const cv::Rect all(0, 0, photo.width_px(), photo.height_px());
  if (!(low.x() < high.x() && low.y() < high.y())) return all;
  const double room = 0.12 * (high - low).maxCoeff();
  const Vector2d from = low.array() - room;
  const Vector2d size = (high - low).array() + 2.0 * room;
  const cv::Rect part = cv::Rect2d(from.x(), from.y(), size.x(), size.y()) & cv::Rect2d(all);
  return part.empty() ? all : part;
}

std::string short_name(const std::string& id) {
  constexpr std::size_t kLongest = 14;
  const std::string ascii = ascii_text(id);
  return ascii.size() <= kLongest ? ascii : ascii.substr(0, kLongest - 2) + "..";
}

std::string label_text(const SlotResult& slot) {
  if (standing(slot) != Standing::ready || !slot.numbers) return style_of(standing(slot)).word;
  const SlotNumbers& n = *slot.numbers;
  return (n.along_mm ? signed_text(*n.along_mm, 2) : std::string("-")) + " / " + signed_text(n.across_mm, 2) + " mm";
}

// What is to be engraved, bright with a dark edge: legible on any wood.
void draw_art(cv::Mat3b& picture, const Drawn& drawn, const Sizes& sizes) {
  std::vector<Polyline2d> filled;
  const int fine = std::max(1, sizes.line_px / 3);
  for (const ArtLine& line : drawn.art) {
    draw::polyline(picture, line.px, draw::Ends::open, {draw::kInk, fine + 4, 0});
    if (line.filled) filled.push_back(line.px);
  }
  draw::fill(picture, filled, draw::kIvory);
  for (const ArtLine& line : drawn.art)
    if (!line.filled) draw::polyline(picture, line.px, draw::Ends::open, {draw::kIvory, fine, 0});
}

void draw_slot(cv::Mat3b& picture, const Drawn& drawn, const Sizes& sizes) {
  const draw::Colour colour = draw::colour(drawn.style->on_photo);
  const int casing = std::max(1, sizes.line_px / 2);
  const Pen outline{colour, sizes.line_px, casing, drawn.style->dash_on * sizes.line_px,
                    drawn.style->dash_off * sizes.line_px};
  for (const Polyline2d& piece : drawn.outline) {
    const bool closed = piece.size() > 2 && (drawn.outline.size() == 1);
    draw::polyline(picture, piece, closed ? draw::Ends::closed : draw::Ends::open, outline);
  }
  const int thin = std::max(1, sizes.line_px / 2);
  if (drawn.moves) {
    draw::polyline(picture, drawn.centreline, draw::Ends::open, {colour, thin, 0, 14.0 * sizes.unit, 8.0 * sizes.unit});
    draw::polyline(picture, drawn.design_box, draw::Ends::closed, {draw::kIvory, thin, 1});
  }
  draw_art(picture, drawn, sizes);
}

void draw_axes(cv::Mat3b& picture, const Drawn& drawn, const Sizes& sizes) {
  if (drawn.along.size() < 2) return;
  const Pen pen{draw::kIvory, std::max(1, sizes.line_px * 2 / 3), 1};
  draw::arrow(picture, drawn.along.front(), drawn.along.back(), pen);
  draw::arrow(picture, drawn.across.front(), drawn.across.back(), pen);
}

// The corner of the picture where the compass hides least.
Vector2d compass_place(const std::vector<Drawn>& slots, const cv::Size& picture, double radius) {
  Vector2d best = Vector2d::Zero();
  int fewest = -1;
  for (const double y : {picture.height - radius, radius}) {
    for (const double x : {radius, picture.width - radius}) {
      int hidden = 0;
      for (const Drawn& slot : slots)
        for (const Vector2d& point : slot.all_outline_points)
          hidden += (point - Vector2d(x, y)).cwiseAbs().maxCoeff() < radius ? 1 : 0;
      if (fewest >= 0 && hidden >= fewest) continue;
      fewest = hidden;
      best = {x, y};
    }
  }
  return best;
}

// How much larger than life the arrows are: the largest of a few round factors that keeps the longest one in bounds.
int arrow_factor(const std::vector<Drawn>& slots, const Sizes& sizes) {
  double longest = 0.0;
  for (const Drawn& slot : slots) {
    if (slot.moves) longest = std::max(longest, (slot.corrected - slot.nominal).norm());
  }
  int factor = 1;
  for (const int candidate : {2, 5, 10, 20}) {
    if (candidate * longest <= 80.0 * sizes.unit) factor = candidate;
  }
  return factor;
}

// An arrow too short to see tells nothing, and what is to be engraved must not be hidden by one.
bool shows_arrow(const Drawn& slot, int factor, const Sizes& sizes) {
  return slot.moves && slot.art.empty() && factor * (slot.corrected - slot.nominal).norm() >= 6.0 * sizes.unit;
}

void draw_arrows(cv::Mat3b& picture, const std::vector<Drawn>& slots, int factor, const Sizes& sizes) {
  const Pen pen{draw::kIvory, sizes.line_px, std::max(1, sizes.line_px / 2)};
  for (const Drawn& slot : slots) {
    if (!shows_arrow(slot, factor, sizes)) continue;
    draw::arrow(picture, slot.nominal, slot.nominal + factor * (slot.corrected - slot.nominal), pen);
  }
}

struct Label {
  std::string name;
  std::string text;
};

double symbol_side(const Font& font) { return font.height_px * 0.95; }

// symbol, name, text, with gaps
cv::Size label_size(const Label& label, bool brief, const Sizes& sizes) {
  double width = 2.5 * sizes.gap_px + symbol_side(sizes.font) + draw::text_width(label.name, sizes.strong);
  if (!brief) width += 1.2 * sizes.gap_px + draw::text_width(label.text, sizes.font);
  return {static_cast<int>(std::ceil(width)) + sizes.line_px,
          static_cast<int>(std::ceil(sizes.strong.height_px + 1.6 * sizes.gap_px))};
}

void draw_label(cv::Mat3b& picture, const Drawn& drawn, const Label& label, const LabelPlace& place,
                const Sizes& sizes) {
  const draw::Colour colour = draw::colour(drawn.style->on_photo);
  draw::plate(picture, place.area);
  picture(cv::Rect(place.area.x, place.area.y, sizes.line_px, place.area.height) &
          cv::Rect(0, 0, picture.cols, picture.rows))
      .setTo(colour);
  const double side = symbol_side(sizes.font);
  const double middle_y = place.area.y + place.area.height / 2.0;
  double x = place.area.x + sizes.line_px + 0.7 * sizes.gap_px;
  draw::symbol(picture, drawn.style->standing, {x + side / 2.0, middle_y}, side, colour);
  x += side + 0.9 * sizes.gap_px;
  draw::text(picture, label.name, {x, middle_y + sizes.strong.height_px / 2.0}, sizes.strong, colour);
  x += draw::text_width(label.name, sizes.strong) + 1.2 * sizes.gap_px;
  if (!place.brief)
    draw::text(picture, label.text, {x, middle_y + sizes.font.height_px / 2.0}, sizes.font, draw::kIvory);
}

// From a label's edge to the nearest point of its own slot's outline.
struct Leader {
  Vector2d label = Vector2d::Zero();
  Vector2d slot = Vector2d::Zero();
};

std::optional<Leader> leader(const Drawn& drawn, const cv::Rect& area) {
  const Polyline2d& points = drawn.all_outline_points;
  if (points.empty()) return std::nullopt;
  const Vector2d low(area.x, area.y);
  const Vector2d high(area.x + area.width, area.y + area.height);
  const auto edge = [&](const Vector2d& point) -> Vector2d { return point.cwiseMax(low).cwiseMin(high); };
  const auto distance = [&](const Vector2d& point) { return (point - edge(point)).squaredNorm(); };
  const Vector2d nearest = *std::min_element(
      points.begin(), points.end(), [&](const Vector2d& a, const Vector2d& b) { return distance(a) < distance(b); });
  return Leader{edge(nearest), nearest};
}

enum class LabelText { name_and_move, name_alone };

void draw_labels(cv::Mat3b& picture, const std::vector<Drawn>& slots, LabelText text, const Sizes& sizes) {
  const bool alone = text == LabelText::name_alone;
  std::vector<Label> labels;
  std::vector<LabelWish> wishes;
  for (const Drawn& slot : slots) {
    labels.push_back({short_name(slot.slot->id), label_text(*slot.slot)});
    Polyline2d shape = slot.all_outline_points;
    shape.insert(shape.end(), slot.along.begin(), slot.along.end());
    shape.insert(shape.end(), slot.across.begin(), slot.across.end());
    wishes.push_back({{slot.label, 2.0 * middle(slot.all_outline_points) - slot.label},
                      shape,
                      label_size(labels.back(), alone, sizes),
                      label_size(labels.back(), true, sizes)});
  }
  const std::vector<LabelPlace> places = place_labels(wishes, picture.size());
  // lines under all labels, dots above all: a label between two slots would else be anyone's
  std::vector<std::optional<Leader>> leaders;
  for (std::size_t i = 0; i < slots.size(); ++i) leaders.push_back(leader(slots[i], places[i].area));
  for (std::size_t i = 0; i < slots.size(); ++i) {
    const Pen pen{draw::colour(slots[i].style->on_photo), std::max(1, sizes.line_px * 2 / 3), 1};
    if (leaders[i]) draw::polyline(picture, {leaders[i]->label, leaders[i]->slot}, draw::Ends::open, pen);
  }
  for (std::size_t i = 0; i < slots.size(); ++i)
    draw_label(picture, slots[i], labels[i], {places[i].area, alone || places[i].brief}, sizes);
  for (std::size_t i = 0; i < slots.size(); ++i) {
    if (leaders[i]) draw::dot(picture, leaders[i]->slot, 6.0 * sizes.unit, draw::colour(slots[i].style->on_photo));
  }
}

// The legend: lines of runs, each a text with an optional symbol before it.
struct Run {
  const StandingStyle* style = nullptr;
  std::string text;
  bool strong = false;
};

double run_width(const Run& run, const Sizes& sizes) {
  const double sign = run.style != nullptr ? symbol_side(sizes.font) + sizes.gap_px : 0.0;
  return sign + draw::text_width(run.text, run.strong ? sizes.strong : sizes.font);
}

std::vector<Run> words(const std::string& text, bool strong) {
  std::vector<Run> out;
  std::istringstream stream(text);
  for (std::string word; stream >> word;) out.push_back({nullptr, word, strong});
  return out;
}

// Breaks runs into lines of at most the given width; a run that is too long alone is cut.
std::vector<std::vector<Run>> wrapped(std::vector<Run> runs, double space, double width, const Sizes& sizes) {
  std::vector<std::vector<Run>> lines;
  double used = width;
  for (Run& run : runs) {
    while (run.text.size() > 4 && run_width(run, sizes) > width)
      run.text = run.text.substr(0, run.text.size() - 3) + "..";
    const double needed = run_width(run, sizes);
    if (lines.empty() || used + space + needed > width) {
      lines.emplace_back();
      used = -space;
    }
    used += space + needed;
    lines.back().push_back(run);
  }
  return lines;
}

std::vector<Run> state_keys(const CheckResult& result) {
  std::vector<Run> keys;
  for (const StandingStyle& style : standing_styles()) {
    const auto count = std::count_if(result.slots.begin(), result.slots.end(),
                                     [&](const SlotResult& slot) { return standing(slot) == style.standing; });
    if (count > 0) keys.push_back({&style, std::to_string(count) + " " + style.word});
  }
  return keys;
}

std::string reading_help(bool arrows, int factor, bool axes) {
  std::string help = "Numbers: move along / across the slot.";
  if (axes) help += " At each blank's end: long arrow along, short arrow across.";
  if (arrows)
    help += factor == 1 ? " Arrow on a blank: that move."
                        : " Arrow on a blank: that move, " + std::to_string(factor) + " times life size.";
  return help;
}

cv::Mat3b legend(const CheckResult& result, int width_px, bool arrows, int factor, bool axes,
                 const std::vector<std::string>& remarks, const Sizes& sizes) {
  const double margin = 2.0 * sizes.gap_px;
  const double width = width_px - 2.0 * margin;
  const double word_space = draw::text_width("n", sizes.font) * 0.75;
  std::vector<std::vector<Run>> lines;
  const auto add = [&](const std::vector<Run>& runs, double space) {
    for (std::vector<Run>& line : wrapped(runs, space, width, sizes)) lines.push_back(std::move(line));
    return lines.size();
  };
  const std::size_t strong_lines =
      add(words(ascii_text(result.fixture_name + ":") + " " + ascii_text(headline(result, 12)), true), word_space);
  const std::size_t key_lines = add(state_keys(result), 3.0 * sizes.gap_px);
  add(words(reading_help(arrows, factor, axes), false), word_space);
  for (const std::string& remark : remarks) add(words(ascii_text(remark), false), word_space);

  const double pitch = sizes.strong.height_px + 2.0 * sizes.gap_px;
  const int height = static_cast<int>(std::ceil(static_cast<double>(lines.size()) * pitch + 1.5 * sizes.gap_px));
  cv::Mat3b strip(height, width_px, cv::Vec3b(38, 29, 20));
  for (std::size_t row = 0; row < lines.size(); ++row) {
    const bool keys = row >= strong_lines && row < key_lines;
    double x = margin;
    const double base_y = 1.7 * sizes.gap_px + sizes.strong.height_px + static_cast<double>(row) * pitch;
    for (const Run& run : lines[row]) {
      const Font& font = run.strong ? sizes.strong : sizes.font;
      double text_x = x;
      if (run.style != nullptr) {
        const double side = symbol_side(sizes.font);
        draw::symbol(strip, run.style->standing, {x + side / 2, base_y - sizes.font.height_px / 2}, side,
                     draw::colour(run.style->on_photo));
        text_x += side + sizes.gap_px;
      }
      draw::text(strip, run.text, {text_x, base_y}, font, draw::kIvory);
      x += run_width(run, sizes) + (keys ? 3.0 * sizes.gap_px : word_space);
    }
  }
  return strip;
}

}  // namespace

cv::Mat3b annotated_picture(const CheckResult& result, ShrunkPicture photo, const std::vector<std::string>& remarks) {
  const Sizes sizes = sizes_for(std::max(photo.bgr.cols, photo.bgr.rows) / static_cast<double>(kAnnotatedSide_px));
  std::vector<Drawn> slots;
  for (const SlotResult& slot : result.slots) {
    slots.push_back(drawn_from(slot, photo.scale));
    add_axes(slot, photo.scale, 42.0 * sizes.unit, slots.back());
  }
  const bool axes = std::any_of(slots.begin(), slots.end(), [](const Drawn& slot) { return !slot.along.empty(); });

  const int factor = arrow_factor(slots, sizes);
  const bool arrows =
      std::any_of(slots.begin(), slots.end(), [&](const Drawn& slot) { return shows_arrow(slot, factor, sizes); });
  const cv::Mat3b strip = legend(result, photo.bgr.cols, arrows, factor, axes, remarks, sizes);
  cv::Mat3b out(photo.bgr.rows + strip.rows, photo.bgr.cols);
  cv::Mat3b top = out.rowRange(0, photo.bgr.rows);
  photo.bgr.copyTo(top);
  strip.copyTo(out.rowRange(photo.bgr.rows, out.rows));
  photo.bgr.release();
  for (const Drawn& slot : slots) draw_slot(top, slot, sizes);
  draw_arrows(top, slots, factor, sizes);
  for (const Drawn& slot : slots) draw_axes(top, slot, sizes);
  if (result.directions)
    draw::compass(top, *result.directions, compass_place(slots, top.size(), draw::compass_radius(sizes.font)),
                  sizes.font);
  draw_labels(top, slots, LabelText::name_and_move, sizes);
  return out;
}

cv::Mat3b closeup_picture(const CheckResult& result, const Photo& photo) {
  constexpr double kSide_px = 1400.0;
  const cv::Rect part = about_the_slots(result, photo);
  const double scale = std::min(1.0, kSide_px / std::max(part.width, part.height));
  // the whole photo shrunk first: a part's chroma need not begin where its luma does
  ShrunkPicture whole =
      shrink(photo, static_cast<int>(std::lround(scale * std::max(photo.width_px(), photo.height_px()))));
  const cv::Rect cut = cv::Rect(cv::Point(cvRound(part.x * whole.scale), cvRound(part.y * whole.scale)),
                                cv::Size(cvRound(part.width * whole.scale), cvRound(part.height * whole.scale))) &
                       cv::Rect(cv::Point(), whole.bgr.size());
  cv::Mat3b out = whole.bgr(cut).clone();
  whole.bgr.release();
  // 22 px of text on 1600, as on the whole photo, are too small on a phone
  const Sizes sizes = sizes_for(2.4 * std::max(out.cols, out.rows) / static_cast<double>(kAnnotatedSide_px));
  std::vector<Drawn> slots;
  slots.reserve(result.slots.size());
  for (const SlotResult& slot : result.slots) {
    slots.push_back(drawn_from(slot, whole.scale));
    move(slots.back(), -Vector2d(cut.x, cut.y));
  }
  Sizes lines = sizes;
  lines.line_px = std::max(1, sizes.line_px / 2);
  for (const Drawn& slot : slots) draw_slot(out, slot, lines);
  draw_labels(out, slots, LabelText::name_alone, sizes);
  return out;
}

}  // namespace jigtrue
