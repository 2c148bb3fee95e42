#include "jigtrue/target/target_sheet.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <sstream>
#include <utility>

#include "target/target_parts.hpp"

namespace jigtrue {

namespace {

constexpr double kEdge_mm = 6.5;        // printers leave up to a quarter of an inch of a sheet blank
constexpr double kLeastWhite_mm = 5.0;  // between pattern and rulers
constexpr double kMostWhite_mm = 12.0;
constexpr double kRuler_mm = 8.0;  // ticks, numbers and the sentence under them
constexpr double kFont_mm = 2.6;
constexpr double kLineStep_mm = 3.4;
constexpr double kHairline_mm = 0.15;

std::string plain(double value) { return short_number(value, 3); }

Vector2d portrait_mm(SheetSize size) {
  switch (size) {
    case SheetSize::a3:
      return {297.0, 420.0};
    case SheetSize::letter:
      return {215.9, 279.4};
    case SheetSize::a4:
      break;
  }
  return {210.0, 297.0};
}

Vector2d turned(const Vector2d& portrait, SheetTurn turn) {
  return turn == SheetTurn::landscape ? Vector2d(portrait.y(), portrait.x()) : portrait;
}

std::vector<std::string> wrapped_lines(const std::string& text, double width_mm) {
  std::vector<std::string> lines(1);
  std::istringstream words(text);
  for (std::string word; words >> word;) {
    std::string longer = lines.back();
    if (!longer.empty()) longer += ' ';
    longer += word;
    if (!lines.back().empty() && text_width_mm(longer, kFont_mm) > width_mm) {
      lines.push_back(word);
    } else {
      lines.back() = longer;
    }
  }
  return lines;
}

// The instructions stand at the foot, their last line on the lower edge of what can be printed.
void add_instructions(TargetDrawing& drawing, const std::vector<std::string>& lines) {
  double y = kEdge_mm + 0.25 * kFont_mm + kLineStep_mm * (static_cast<double>(lines.size()) - 1.0);
  for (const std::string& line : lines) {
    drawing.print.push_back({{kEdge_mm, y}, kFont_mm, line, TextAnchor::start, false});
    y -= kLineStep_mm;
  }
}
double instructions_mm(const std::vector<std::string>& lines) {
  return kLineStep_mm * static_cast<double>(lines.size());
}

enum class Axis { x, y };

// A ruler from zero_mm on, as long as whole tens of millimetres go into `room`: a long line whose two ends are meant
// for the callipers, ticks and numbers on the side away from the pattern.
class Ruler {
 public:
  Ruler(TargetDrawing& drawing, Axis axis, const Vector2d& zero_mm, std::string name)
      : drawing_(drawing), axis_(axis), zero_(zero_mm), name_(std::move(name)) {}

  void draw(double room_mm) {
    const int length = static_cast<int>(std::floor(room_mm / 10.0 + 1e-9)) * 10;
    if (length == 0) return;
    box(0.0, length, 0.0, kHairline_mm * 1.5);
    for (int mm = 0; mm <= length; ++mm) {
      const double tick = mm % 10 == 0 ? 2.6 : (mm % 5 == 0 ? 1.9 : 1.2);
      // the first and the last lie inside the line's ends, the others about their places
      const double middle = std::clamp(static_cast<double>(mm), kHairline_mm / 2.0, length - kHairline_mm / 2.0);
      box(middle - kHairline_mm / 2.0, middle + kHairline_mm / 2.0, 0.0, tick);
      if (mm % 10 == 0) print(mm, 4.5, 1.9, std::to_string(mm), TextAnchor::middle);
    }
    const std::string sentence =
        std::string(axis_ == Axis::x ? "+X" : "+Y") + ": this line must measure " + std::to_string(length) + ".0 mm";
    const double size = std::min(2.2, 2.2 * length / text_width_mm(sentence, 2.2));
    print(length / 2.0, 7.0, size, sentence, TextAnchor::middle);
  }

 private:
  [[nodiscard]] Vector2d place(double along, double away) const {
    return zero_ + (axis_ == Axis::x ? Vector2d(along, -away) : Vector2d(-away, along));
  }
  void box(double from, double to, double away_from, double away_to) {
    const Vector2d a = place(from, away_from);
    const Vector2d b = place(to, away_to);
    drawing_.boxes.push_back({a.cwiseMin(b), a.cwiseMax(b), 0.0});
  }
  // `away`: of the base line. Text along Y reads upwards, so its base line lies on the right, towards the pattern.
  void print(double along, double away, double size, const std::string& text, TextAnchor anchor) {
    const double base = axis_ == Axis::x ? away : away - 0.72 * size;
    drawing_.print.push_back({place(along, base), size, text, anchor, axis_ == Axis::y});
  }

  TargetDrawing& drawing_;
  Axis axis_;
  Vector2d zero_;
  std::string name_;
};

// --- the board ---

std::string board_name(const BoardSpec& board) {
  return std::to_string(board.columns) + "x" + std::to_string(board.rows) + "x" + plain(board.square_mm);
}

std::string board_instructions(const BoardSpec& board) {
  return "Board " + board_name(board) +
         ". Print at 100 %, not fitted to the page. Measure both rulers with callipers: if one is off, print again or "
         "give the square as " +
         plain(board.square_mm) +
         " mm x measured / printed length. Keep the sheet flat and unfolded, glued to something stiff. --board-at says "
         "where the corner marked \"origin\" lies on the bed and how +X is turned.";
}

struct BoardRoom {
  Vector2d sheet_mm;
  std::vector<std::string> instructions;
  Vector2d before_mm;   // least room left of and below the pattern
  Vector2d pattern_mm;  // largest pattern
};

BoardRoom room_for(const BoardSpec& board, const Vector2d& sheet) {
  BoardRoom room;
  room.sheet_mm = sheet;
  room.instructions = wrapped_lines(board_instructions(board), sheet.x() - 2.0 * kEdge_mm);
  const double ruler = kEdge_mm + kRuler_mm + kLeastWhite_mm;
  room.before_mm = {ruler, ruler + instructions_mm(room.instructions)};
  room.pattern_mm = sheet - room.before_mm - Vector2d::Constant(kEdge_mm);
  return room;
}

double largest_square_mm(const BoardSpec& board, const BoardRoom& room) {
  return std::min(room.pattern_mm.x() / board.columns, room.pattern_mm.y() / board.rows);
}

std::vector<SheetTurn> turns_to_try(SheetTurn turn) {
  if (turn != SheetTurn::best) return {turn};
  return {SheetTurn::landscape, SheetTurn::portrait};
}

BoardRoom best_room(const BoardSpec& board, SheetSize size, SheetTurn turn) {
  BoardRoom best;
  double largest = 0.0;
  for (const SheetTurn choice : turns_to_try(turn)) {
    const BoardRoom room = room_for(board, turned(portrait_mm(size), choice));
    const double square = largest_square_mm(board, room);
    if (square <= largest) continue;
    largest = square;
    best = room;
  }
  if (board.square_mm > largest) {
    const double square = std::floor(largest * 10.0) / 10.0;
    throw input_error("--board " + board_name(board), std::string("it does not fit ") + to_string(size),
                      "the largest square that does is " + plain(square) + " mm (rulers and white margin counted in)");
  }
  return best;
}

void add_squares(TargetDrawing& drawing, const BoardSpec& board, const Vector2d& origin) {
  for (int row = 0; row < board.rows; ++row) {
    for (int column = row % 2; column < board.columns; column += 2) {
      const Vector2d low = origin + board.square_mm * Vector2d(column, row);
      const Vector2d high = origin + board.square_mm * Vector2d(column + 1, row + 1);
      drawing.boxes.push_back({low, high, 0.0});
    }
  }
}

// A thin angle outside the pattern's corner, and its name beside the rulers' zero.
void add_origin(TargetDrawing& drawing, const Vector2d& origin, const Vector2d& rulers_zero) {
  constexpr double kAway = 2.0;
  constexpr double kLeg = 4.0;
  const Vector2d corner = origin - Vector2d::Constant(kAway);
  drawing.boxes.push_back({corner, corner + Vector2d(kLeg, kHairline_mm), 0.0});
  drawing.boxes.push_back({corner, corner + Vector2d(kHairline_mm, kLeg), 0.0});
  drawing.print.push_back({rulers_zero - Vector2d(1.5, 3.2), 2.0, "origin", TextAnchor::end, false});
}

// --- the marks ---

struct MarkCells {
  Vector2d sheet_mm;
  std::vector<std::string> instructions;
  Vector2d low_mm;
  int columns = 0;
  int rows = 0;
};

std::string mark_instructions(double field_mm) {
  return "Marks of " + plain(field_mm) +
         " mm fields. Print at 100 %, not fitted to the page; check both rulers with callipers. Cut along the grey "
         "lines, leave the white border on, stick each down flat, black fields at its lower left and upper right.";
}

MarkCells cells_on(double field_mm, const Vector2d& sheet) {
  MarkCells cells;
  cells.sheet_mm = sheet;
  cells.instructions = wrapped_lines(mark_instructions(field_mm), sheet.x() - 2.0 * kEdge_mm);
  const double cell = 4.0 * field_mm;
  const Vector2d least(kEdge_mm + kRuler_mm + 2.0, kEdge_mm + instructions_mm(cells.instructions) + kRuler_mm + 2.0);
  const Vector2d room = sheet - least - Vector2d::Constant(kEdge_mm);
  cells.columns = static_cast<int>(std::floor(room.x() / cell));
  cells.rows = static_cast<int>(std::floor(room.y() / cell));
  cells.low_mm = least + (room - cell * Vector2d(cells.columns, cells.rows)) / 2.0;
  return cells;
}

void add_cutting_lines(TargetDrawing& drawing, const MarkCells& cells, double cell) {
  const Vector2d high = cells.low_mm + cell * Vector2d(cells.columns, cells.rows);
  const double half = kHairline_mm / 2.0;
  constexpr double kGrey = 0.6;
  for (int column = 0; column <= cells.columns; ++column) {
    const double x = cells.low_mm.x() + cell * column;
    drawing.boxes.push_back({{x - half, cells.low_mm.y()}, {x + half, high.y()}, kGrey});
  }
  for (int row = 0; row <= cells.rows; ++row) {
    const double y = cells.low_mm.y() + cell * row;
    drawing.boxes.push_back({{cells.low_mm.x(), y - half}, {high.x(), y + half}, kGrey});
  }
}

}  // namespace

std::optional<SheetSize> sheet_size_from_string(const std::string& name) {
  std::string lower = name;
  for (char& c : lower) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  for (const SheetSize size : {SheetSize::a4, SheetSize::a3, SheetSize::letter})
    if (lower == to_string(size)) return size;
  return std::nullopt;
}

const char* to_string(SheetSize size) {
  switch (size) {
    case SheetSize::a3:
      return "a3";
    case SheetSize::letter:
      return "letter";
    case SheetSize::a4:
      break;
  }
  return "a4";
}

BoardSheet board_sheet(const BoardSpec& board, SheetSize size, SheetTurn turn) {
  const BoardRoom room = best_room(board, size, turn);
  const Vector2d pattern = board.square_mm * Vector2d(board.columns, board.rows);
  const Vector2d slack = room.pattern_mm - pattern;
  BoardSheet sheet;
  sheet.drawing.title = "Checkerboard " + board_name(board) + " mm";
  sheet.drawing.size_mm = room.sheet_mm;
  sheet.origin_mm = room.before_mm + slack / 2.0;
  const double white = std::min(kLeastWhite_mm + slack.minCoeff() / 2.0, kMostWhite_mm);
  const Vector2d rulers_zero = sheet.origin_mm - Vector2d::Constant(white);
  add_squares(sheet.drawing, board, sheet.origin_mm);
  Ruler(sheet.drawing, Axis::x, {sheet.origin_mm.x(), rulers_zero.y()}, "+X: ").draw(pattern.x());
  Ruler(sheet.drawing, Axis::y, {rulers_zero.x(), sheet.origin_mm.y()}, "+Y: ").draw(pattern.y());
  add_origin(sheet.drawing, sheet.origin_mm, {sheet.origin_mm.x(), rulers_zero.y()});
  add_instructions(sheet.drawing, room.instructions);
  return sheet;
}

void add_mark_fields(TargetDrawing& drawing, const Vector2d& centre_mm, double field_mm) {
  const Vector2d field = Vector2d::Constant(field_mm);
  drawing.boxes.push_back({centre_mm - field, centre_mm, 0.0});
  drawing.boxes.push_back({centre_mm, centre_mm + field, 0.0});
}

MarkSheet mark_sheet(double field_mm, SheetSize size, SheetTurn turn) {
  if (!(field_mm >= 2.0 && field_mm <= 40.0))
    throw input_error("--field", "a mark's field must be 2 to 40 mm", "8 is the usual size");
  MarkCells best;
  for (const SheetTurn choice : turns_to_try(turn)) {
    const MarkCells cells = cells_on(field_mm, turned(portrait_mm(size), choice));
    if (cells.columns * cells.rows > best.columns * best.rows) best = cells;
  }
  if (best.columns * best.rows == 0)
    throw input_error("--field " + plain(field_mm), "no such mark fits the sheet", "take a smaller field");
  const double cell = 4.0 * field_mm;
  MarkSheet sheet;
  sheet.drawing.title = "Marks of " + plain(field_mm) + " mm fields";
  sheet.drawing.size_mm = best.sheet_mm;
  for (int row = 0; row < best.rows; ++row) {
    for (int column = 0; column < best.columns; ++column) {
      sheet.centres_mm.emplace_back(best.low_mm + cell * Vector2d(column + 0.5, row + 0.5));
      add_mark_fields(sheet.drawing, sheet.centres_mm.back(), field_mm);
    }
  }
  add_cutting_lines(sheet.drawing, best, cell);
  Ruler(sheet.drawing, Axis::x, best.low_mm - Vector2d(0.0, 2.0), "").draw(cell * best.columns);
  Ruler(sheet.drawing, Axis::y, best.low_mm - Vector2d(2.0, 0.0), "").draw(cell * best.rows);
  add_instructions(sheet.drawing, best.instructions);
  return sheet;
}

}  // namespace jigtrue
