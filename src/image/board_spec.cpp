#include "jigtrue/base/error.hpp"
#include "jigtrue/image/board.hpp"

#include <charconv>
#include <cmath>
#include <string>
#include <string_view>
#include <utility>

namespace jigtrue {
namespace {

constexpr int kMinSquares = 4;           // fewer leave no grid to check
constexpr int kMaxSquares = 100;         // a metre of centimetres
constexpr double kMaxSquareMm = 1000.0;  // more than any print

[[noreturn]] void refuse(const std::string& text, const std::string& what) {
  throw input_error("--board " + text, what,
                    "give squares across, squares up and the square's side in mm, such as 10x7x25");
}

template <class Number>
bool read_whole(std::string_view text, Number& number) {
  const char* end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, number);
  return error == std::errc() && stop == end;
}

}  // namespace

BoardSpec parse_board_spec(const std::string& text) {
  const std::string_view whole = text;
  const auto first = whole.find_first_of("xX");
  const auto second = first == std::string_view::npos ? first : whole.find_first_of("xX", first + 1);
  if (second == std::string_view::npos) refuse(text, "needs three numbers with x between them");

  BoardSpec board;
  if (!read_whole(whole.substr(0, first), board.columns) ||
      !read_whole(whole.substr(first + 1, second - first - 1), board.rows))
    refuse(text, "the counts of squares must be whole numbers");
  if (!read_whole(whole.substr(second + 1), board.square_mm) || !std::isfinite(board.square_mm))
    refuse(text, "the square's side must be a number");
  if (std::min(board.columns, board.rows) < kMinSquares || std::max(board.columns, board.rows) > kMaxSquares)
    refuse(text, "the counts of squares must lie between 4 and 100");
  if (board.square_mm <= 0.0 || board.square_mm > kMaxSquareMm)
    refuse(text, "the square's side must be more than 0 and at most 1000 mm");
  if (board.columns < board.rows) std::swap(board.columns, board.rows);
  return board;
}

}  // namespace jigtrue
