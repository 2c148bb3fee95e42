#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/layout/artwork.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <set>

#include "layout/clip_region.hpp"
#include "layout/drawing_groups.hpp"
#include "layout/drawing_limits.hpp"
#include "layout/flatten.hpp"
#include "layout/svg_path.hpp"
#include "layout/svg_state.hpp"

namespace jigtrue {
namespace {

using svg::Affine;
using svg::ClipRegion;
using svg::is_white;
using svg::kLimits;
using svg::one_of;
using svg::Properties;
using svg::State;
using svg::trimmed;

constexpr double kSmallestInk_mm = 0.001;

constexpr const char* kOutlines = "convert it to outlines (paths) in the drawing program and save again";

class Reader {
 public:
  Reader(const std::string& text, const std::string& file) : elements_(text, file) { art_.file = file; }

  Artwork read() {
    draw_all();
    finish();
    return std::move(art_);
  }

  svg::DrawingGroups read_groups(const std::function<bool(const svg::DrawingGroup&)>& wanted) {
    wanted_ = wanted;
    draw_all();
    return {art_.page_mm, std::move(groups_)};
  }

 private:
  void draw_all() {
    const pugi::xml_node root = elements_.root();
    State state;
    state.page_from_user = page_from_px();
    open_page(root, state);
    draw_children(root, state);
  }

  // Only groups are asked for: what cannot be measured is passed over.
  [[nodiscard]] bool lenient() const { return static_cast<bool>(wanted_); }
  [[nodiscard]] svg::Unburnable unburnable() const {
    return lenient() ? svg::Unburnable::passed_over : svg::Unburnable::refused;
  }

  // Begins a group that is wanted; its ink is then gathered until it is closed.
  bool open_group(const pugi::xml_node& node, std::string_view name, const State& state) {
    if (!wanted_ || name != "g" || !in_use_.empty()) return false;
    svg::DrawingGroup group;
    group.id = node.attribute("id").value();
    group.data_slot = node.attribute("data-slot").value();
    if (!wanted_(group)) return false;
    group.name_at = static_cast<std::size_t>(node.offset_debug());
    group.transform = node.attribute("transform").value();
    group.page_from_parent = state.page_from_user;
    group.inside_another = !open_groups_.empty();
    group.placed_before = node.attribute("data-bed-centre-mm") || node.attribute("data-corrected");
    open_groups_.push_back(groups_.size());
    groups_.push_back(std::move(group));
    return true;
  }

  void hold_ink(const InkBox& box) {
    art_.ink.hold(box);
    for (const std::size_t index : open_groups_) groups_[index].ink.hold(box);
  }

  static Affine page_from_px() {
    Affine out = Affine::Identity();
    out.scale(svg::kMmPerPx);
    return out;
  }

  static void enter_view_box(const pugi::xml_node& node, const svg::ViewBox& box, const Vector2d& viewport,
                             State& state) {
    state.page_from_user = state.page_from_user *
                           svg::viewport_from_view_box(box, viewport, node.attribute("preserveAspectRatio").value());
    state.viewport = box.size;
  }

  void open_page(const pugi::xml_node& root, State& state) {
    const auto box = elements_.view_box_of(root);
    const Vector2d natural = box ? box->size : Vector2d(100.0, 100.0);
    const auto side = [&](const char* name, double whole) {
      const std::string_view text = trimmed(root.attribute(name).value());
      if (text.empty() || text.ends_with('%') || text == "auto") return whole;
      return elements_.size_of(root, name, whole, whole);
    };
    const Vector2d size(side("width", natural.x()), side("height", natural.y()));
    if (!(size.minCoeff() > 0.0)) throw elements_.refuse(root, "the page has no size", "give width and height in mm");
    art_.page_mm = size * svg::kMmPerPx;
    if (!svg::has_real_unit(root.attribute("width").value()) || !svg::has_real_unit(root.attribute("height").value()))
      art_.notes.push_back(elements_.file() +
                           " gives its page no width and height in mm; its units were taken as 1/96 inch, its page "
                           "as " +
                           fixed_text(art_.page_mm.x(), 1) + " x " + fixed_text(art_.page_mm.y(), 1) +
                           " mm. If that is wrong, set the page's width and height in mm.");
    apply(root, state);
    state.viewport = size;
    if (box) enter_view_box(root, *box, size, state);
  }

  // Properties, transform and clip of one element into the state. False when it and all below it stay undrawn.
  bool apply(const pugi::xml_node& node, State& state) {
    const Properties own = elements_.properties_of(node);
    if (const auto transform = node.attribute("transform")) {
      const auto matrix = svg::transform(transform.value());
      if (!matrix)
        throw elements_.refuse(node, "its transform cannot be read", "mend it, or apply the transform in the program");
      state.page_from_user = state.page_from_user * *matrix;
    }
    for (const auto& [name, value] : own) svg::set(elements_, node, name, value, unburnable(), state);
    const auto display = own.find("display");
    if (display != own.end() && display->second == "none") return false;
    const auto opacity = own.find("opacity");
    if (opacity != own.end() && svg::number_of(elements_, node, "opacity", opacity->second) <= 0.0) return false;
    const auto clip = own.find("clip-path");
    if (clip != own.end() && clip->second != "none") enter_clip(node, clip->second, state);
    return true;
  }

  void enter_clip(const pugi::xml_node& node, std::string_view value, State& state) {
    const std::size_t open = value.find('#');
    const std::size_t close = value.find_first_of("\"')", std::min(open, value.size()));
    if (!value.starts_with("url(") || close == std::string_view::npos)
      throw elements_.refuse(node, "its clip-path cannot be read", "expand the clipping and save again");
    const pugi::xml_node clip = elements_.target_of(node, value.substr(open, close - open));
    if (elements_.name_of(clip) != "clipPath")
      throw elements_.refuse(node, "its clip-path is no <clipPath>", "mend the drawing");
    if (std::string_view(clip.attribute("clipPathUnits").value()) == "objectBoundingBox")
      throw elements_.refuse(clip, "is given in units of what it clips", "expand the clipping and save again");
    if (collecting_ != nullptr || state.depth > kLimits.levels_drawn)
      throw elements_.refuse(node, "is clipped inside a clip-path", "expand the clipping and save again");
    ClipRegion region;
    State inner;
    inner.page_from_user = state.page_from_user;
    inner.viewport = state.viewport;
    inner.depth = state.depth + 1;
    drawn_ += 1;
    apply(clip, inner);
    const ClipRegion* outer = state.clip;
    if (inner.clip != nullptr) outer = narrowed(state.clip, *inner.clip);
    inner.clip = nullptr;
    collecting_ = &region;
    draw_children(clip, inner);
    collecting_ = nullptr;
    state.clip = narrowed(outer, region);
  }

  const ClipRegion* narrowed(const ClipRegion* outer, ClipRegion region) {
    if (outer != nullptr) region.intersect(*outer, clip_budget_);
    clips_.push_back(std::make_unique<ClipRegion>(std::move(region)));
    return clips_.back().get();
  }

  void draw_children(const pugi::xml_node& node, const State& state) {
    for (const pugi::xml_node& child : node.children())
      if (child.type() == pugi::node_element) draw(child, state);
  }

  void draw(const pugi::xml_node& node, State state) {
    const std::string_view name = elements_.name_of(node);
    if (name.empty() || one_of(name, {"defs", "symbol", "clipPath", "mask", "marker", "linearGradient",
                                      "radialGradient", "pattern", "filter", "style", "title", "desc", "metadata",
                                      "view", "cursor", "font", "font-face", "color-profile"}))
      return;
    if (++drawn_ > kLimits.shapes_drawn)
      throw input_error(elements_.file(), "draws more than 200,000 elements, uses counted each time",
                        "simplify the drawing");
    if (++state.depth > kLimits.levels_drawn)
      throw elements_.refuse(node, "is nested too deeply", "ungroup the drawing");
    const bool opened = open_group(node, name, state);
    const std::size_t first = art_.shapes.size();
    if (apply(node, state)) draw_content(node, name, state);
    if (!opened) return;
    svg::DrawingGroup& group = groups_[open_groups_.back()];
    const auto begin = art_.shapes.begin() + static_cast<std::ptrdiff_t>(first);
    if (!group.inside_another) group.shapes.assign(begin, art_.shapes.end());
    open_groups_.pop_back();
  }

  void draw_content(const pugi::xml_node& node, std::string_view name, const State& state) {
    if (one_of(name, {"g", "a"}))
      draw_children(node, state);
    else if (name == "svg")
      draw_nested(node, state, Vector2d::Zero(), node);
    else if (name == "use")
      draw_use(node, state);
    else if (lenient() && one_of(name, {"text", "tspan", "textPath", "flowRoot", "image", "switch"}))
      return;
    else if (one_of(name, {"text", "tspan", "textPath", "flowRoot"}))
      throw elements_.refuse(node, "is text, whose shape hangs on the fonts of each machine", kOutlines);
    else if (name == "image")
      throw elements_.refuse(node, "is a picture, not outlines", "trace it to paths, or take it out");
    else if (name == "switch")
      throw elements_.refuse(node, "chooses by the reader's language", "keep the one content that is meant");
    else
      draw_shape(node, name, state);
  }

  // A nested svg, or a symbol in use: a viewport of its own that clips.
  void draw_nested(const pugi::xml_node& node, State state, const Vector2d& at, const pugi::xml_node& sized_by) {
    const Vector2d whole = state.viewport;
    const bool own = node == sized_by;
    const Vector2d low =
        own ? Vector2d(elements_.length_of(node, "x", whole.x(), 0.0), elements_.length_of(node, "y", whole.y(), 0.0))
            : at;
    const auto side = [&](const char* name, double all) {
      const pugi::xml_node& giver = !own && !sized_by.attribute(name) ? node : sized_by;
      return elements_.size_of(giver, name, all, all);
    };
    const Vector2d size(side("width", whole.x()), side("height", whole.y()));
    if (!(size.minCoeff() > 0.0)) return;
    state.page_from_user.translate(low);
    const Properties properties = elements_.properties_of(node);
    const auto overflow = properties.find("overflow");
    if (overflow == properties.end() || !one_of(overflow->second, {"visible", "auto"})) {
      ClipRegion window;
      window.add(
          {svg::transformed(svg::rounded_rectangle(Vector2d::Zero(), size, Vector2d::Zero()), state.page_from_user)},
          false, clip_budget_);
      if (collecting_ == nullptr) state.clip = narrowed(state.clip, std::move(window));
    }
    state.viewport = size;
    if (const auto box = elements_.view_box_of(node)) enter_view_box(node, *box, size, state);
    draw_children(node, state);
  }

  void draw_use(const pugi::xml_node& node, State state) {
    const std::string_view reference = svg::href(node);
    if (reference.empty()) throw elements_.refuse(node, "refers to nothing", "mend the drawing");
    const pugi::xml_node target = elements_.target_of(node, reference);
    if (!in_use_.insert(target.internal_object()).second)
      throw elements_.refuse(node, "uses itself", "mend the drawing: a use must not lead back to itself");
    const Vector2d at(elements_.length_of(node, "x", state.viewport.x(), 0.0),
                      elements_.length_of(node, "y", state.viewport.y(), 0.0));
    const std::string_view name = elements_.name_of(target);
    if (name == "symbol") {
      if (apply_symbol(target, state)) draw_nested(target, state, at, node);
    } else {
      state.page_from_user.translate(at);
      draw(target, state);
    }
    in_use_.erase(target.internal_object());
  }

  bool apply_symbol(const pugi::xml_node& symbol, State& state) {
    if (++state.depth > kLimits.levels_drawn)
      throw elements_.refuse(symbol, "is nested too deeply", "ungroup the drawing");
    return apply(symbol, state);
  }

  void draw_shape(const pugi::xml_node& node, std::string_view name, const State& state) {
    std::vector<SubPath> outline = svg::outline_of(elements_, node, state.viewport);
    segments_ += std::max<std::size_t>(outline.size(), 1);
    for (const SubPath& path : outline) segments_ += path.segments.size();
    if (segments_ > kLimits.path_segments)
      throw input_error(elements_.file(), "draws more than 500,000 segments, uses counted each time",
                        "simplify the drawing");
    // a move alone draws nothing, not even a dot (SVG 1.1, 11.4); closed it does
    std::erase_if(outline, [](const SubPath& path) { return path.segments.empty() && !path.closed; });
    if (outline.empty() || !state.visible) return;
    for (SubPath& path : outline) path = svg::transformed(path, state.page_from_user);
    require_near(node, outline);
    for (const SubPath& path : outline) points_ += svg::flattened_points(path, svg::kExtentTolerance_mm);
    if (points_ > kLimits.points)
      throw input_error(elements_.file(),
                        "its curves are so many and so large that they come to more than 2,000,000 points",
                        "simplify the drawing, or check its units");
    if (collecting_ != nullptr) {
      collecting_->add(outline, state.clip_even_odd, clip_budget_);
      return;
    }
    InkShape shape;
    shape.outline = std::move(outline);
    shape.even_odd = state.even_odd;
    if (name != "line") shape.fill = svg::fill_of(elements_, node, unburnable(), state);
    shape.stroke = svg::stroke_of(elements_, node, unburnable(), state);
    if (shape.fill.empty() && !shape.stroke) return;
    if (is_background(shape)) return;
    keep(std::move(shape), state);
  }

  // The white sheet that many editors save below all that is drawn. White that lies on other ink is taken as drawn.
  bool is_background(const InkShape& shape) {
    constexpr double kSlack_mm = 0.5;
    const bool white = is_white(shape.fill) && (!shape.stroke || is_white(shape.stroke->colour));
    if (!white || lenient() || !art_.shapes.empty()) return false;
    const InkBox box = ink_of(shape);
    const bool covers =
        (box.low.array() <= kSlack_mm).all() && (box.high.array() >= art_.page_mm.array() - kSlack_mm).all();
    if (covers && !background_)
      art_.notes.push_back(elements_.file() + ": its white page background is taken as no ink.");
    background_ = background_ || covers;
    return covers;
  }

  void keep(InkShape shape, const State& state) {
    if (state.clip == nullptr) {
      hold_ink(ink_of(shape));
      art_.shapes.push_back(std::move(shape));
      return;
    }
    const InkBox window = state.clip->bounds();
    for (InkShape& part : state.clip->cut(shape, clip_budget_)) {
      InkBox box = ink_of(part);
      box.low = box.low.cwiseMax(window.low);
      box.high = box.high.cwiseMin(window.high);
      if (!box.empty()) hold_ink(box);
      art_.shapes.push_back(std::move(part));
    }
  }

  void require_near(const pugi::xml_node& node, const std::vector<SubPath>& outline) const {
    const auto near = [](const Vector2d& p) { return p.allFinite() && p.cwiseAbs().maxCoeff() < kLimits.farthest_mm; };
    for (const SubPath& path : outline) {
      bool good = near(path.start);
      for (const PathSegment& s : path.segments) good = good && near(s.control_1) && near(s.control_2) && near(s.end);
      if (!good) throw elements_.refuse(node, "reaches farther than 100 m", "check its coordinates and transforms");
    }
  }

  void finish() {
    if (art_.shapes.empty() || art_.ink.empty())
      throw input_error(elements_.file(), "holds no ink: nothing that is visible, filled or stroked",
                        "draw paths with a fill or a stroke");
    if (art_.ink.size().maxCoeff() < kSmallestInk_mm)
      throw input_error(elements_.file(), "its ink has no size", "check the drawing's units and transforms");
  }

  svg::Elements elements_;
  Artwork art_;
  std::set<pugi::xml_node_struct*> in_use_;
  std::vector<std::unique_ptr<ClipRegion>> clips_;
  svg::ClipBudget clip_budget_;
  ClipRegion* collecting_ = nullptr;  // set while a clipPath's own shapes are read
  std::function<bool(const svg::DrawingGroup&)> wanted_;
  std::vector<svg::DrawingGroup> groups_;
  std::vector<std::size_t> open_groups_;
  bool background_ = false;
  std::size_t drawn_ = 0;
  std::size_t segments_ = 0;
  std::size_t points_ = 0;
};

}  // namespace

Artwork read_artwork(const std::string& svg_text, const std::string& file_name) {
  return Reader(svg_text, file_name).read();
}

svg::DrawingGroups svg::drawing_groups(const std::string& svg_text, const std::string& file,
                                       const std::function<bool(const DrawingGroup&)>& wanted) {
  return Reader(svg_text, file).read_groups(wanted);
}

}  // namespace jigtrue
