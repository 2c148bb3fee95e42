#include "report/picture_legend.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/report/standing.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <sstream>
#include <utility>

namespace jigtrue {
namespace {

// The legend: lines of runs, each a text with an optional symbol before it.
struct Run {
  const StandingStyle* style = nullptr;
  std::string text;
  bool strong = false;
};

double run_width(const Run& run, const PictureSizes& sizes) {
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
std::vector<std::vector<Run>> wrapped(std::vector<Run> runs, double space, double width, const PictureSizes& sizes) {
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

std::string reading_help(const Shown& shown) {
  std::string help = "Numbers: move along / across the slot.";
  if (shown.axes) help += " At each blank's end: long arrow along, short arrow across.";
  if (shown.arrows)
    help += shown.arrow_factor == 1
                ? " Arrow on a blank: that move."
                : " Arrow on a blank: that move, " + std::to_string(shown.arrow_factor) + " times life size.";
  return help;
}

}  // namespace

cv::Mat3b legend(const CheckResult& result, int width_px, const Shown& shown, const std::vector<std::string>& remarks,
                 const PictureSizes& sizes) {
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
  add(words(reading_help(shown), false), word_space);
  for (const std::string& remark : remarks) add(words(ascii_text(remark), false), word_space);

  const double pitch = sizes.strong.height_px + 2.0 * sizes.gap_px;
  const int height = static_cast<int>(std::ceil(static_cast<double>(lines.size()) * pitch + 1.5 * sizes.gap_px));
  cv::Mat3b strip(height, width_px, cv::Vec3b(38, 29, 20));
  for (std::size_t row = 0; row < lines.size(); ++row) {
    const bool keys = row >= strong_lines && row < key_lines;
    double x = margin;
    const double base_y = 1.7 * sizes.gap_px + sizes.strong.height_px + static_cast<double>(row) * pitch;
    for (const Run& run : lines[row]) {
      const draw::Font& font = run.strong ? sizes.strong : sizes.font;
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

}  // namespace jigtrue
