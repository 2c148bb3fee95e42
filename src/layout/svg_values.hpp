// The small grammars inside SVG attributes: numbers, lengths, transforms. Private to this layer.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace jigtrue::svg {

using Affine = Eigen::Transform<double, 2, Eigen::AffineCompact>;

// Any number beyond this is refused: no drawing for a bench needs it, and sums of such numbers stay finite.
inline constexpr double kLargestNumber = 1e7;
inline constexpr double kMmPerPx = 25.4 / 96.0;  // CSS 2.1, 4.3.2

// Reads along a text. Every read skips white space first and leaves the cursor untouched when it finds nothing.
class Cursor {
 public:
  explicit Cursor(std::string_view text) : rest_(text) {}

  void skip_space();
  void skip_comma();  // white space with at most one comma in it
  [[nodiscard]] bool at_end();
  [[nodiscard]] char peek();  // '\0' at the end
  void advance() { rest_.remove_prefix(1); }
  bool take(char expected);

  // Nothing when no number stands here, or it is beyond kLargestNumber.
  [[nodiscard]] std::optional<double> number();
  [[nodiscard]] std::optional<bool> flag();  // a lone 0 or 1, as arcs have them
  [[nodiscard]] std::string_view word();     // letters and '-'
  [[nodiscard]] std::string_view rest() const { return rest_; }

 private:
  std::string_view rest_;
};

[[nodiscard]] std::string_view trimmed(std::string_view text);
[[nodiscard]] std::vector<std::string_view> split(std::string_view text, char separator);
[[nodiscard]] std::vector<std::string_view> words(std::string_view text);  // parted by white space

// A length in user units (px); `whole` is what 100 % means. Nothing when it is no length, or in em or ex.
[[nodiscard]] std::optional<double> length(std::string_view text, double whole);
// True when the length names a real-world unit (mm, cm, in, pt, pc), not a plain number, px or %.
[[nodiscard]] bool has_real_unit(std::string_view text);

// The `transform` attribute; nothing when it is malformed or holds a number too large.
[[nodiscard]] std::optional<Affine> transform(std::string_view text);

// A point list; nothing when malformed.
[[nodiscard]] std::optional<std::vector<Vector2d>> points(std::string_view text);

struct ViewBox {
  Vector2d origin = Vector2d::Zero();
  Vector2d size = Vector2d::Zero();
};
[[nodiscard]] std::optional<ViewBox> view_box(std::string_view text);
// From the viewBox's coordinates to a viewport of this size at (0, 0), by `preserveAspectRatio`.
[[nodiscard]] Affine viewport_from_view_box(const ViewBox& box, const Vector2d& viewport, std::string_view aspect);

}  // namespace jigtrue::svg
