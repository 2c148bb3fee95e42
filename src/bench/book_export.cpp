// The whole book for other programs.
#include "jigtrue/base/text.hpp"
#include "jigtrue/bench/book.hpp"

#include <algorithm>
#include <limits>

#include "bench/book_rows.hpp"
#include "bench/sqlite.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

constexpr int kAll = std::numeric_limits<int>::max();

std::string number_cell(const std::optional<double>& value) { return value ? fixed_text(*value, 4) : std::string(); }

std::string csv_text(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? "\"\"" : std::string(1, c);
  return out + "\"";
}

nlohmann::ordered_json number_json(const std::optional<double>& value) {
  return value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json();
}
nlohmann::ordered_json text_json(const std::string& text) { return valid_utf8(text); }

nlohmann::ordered_json slot_json(const BookSlot& slot) {
  return {{"id", text_json(slot.id)},
          {"standing", text_json(slot.standing)},
          {"ready", slot.ready},
          {"along_mm", number_json(slot.along_mm)},
          {"across_mm", number_json(slot.across_mm)},
          {"rotation_deg", number_json(slot.rotation_deg)},
          {"u95_along_mm", number_json(slot.u_along_mm)},
          {"u95_across_mm", number_json(slot.u_across_mm)},
          {"u95_rotation_deg", number_json(slot.u_rotation_deg)},
          {"piece", slot.piece ? nlohmann::ordered_json(*slot.piece) : nlohmann::ordered_json()},
          {"text", text_json(slot.text)},
          {"outcome", text_json(slot.outcome)}};
}

}  // namespace

std::string Book::csv() const {
  std::string out =
      "load,time,photo,fixture,design,batch,burned,slot,standing,ready,along_mm,across_mm,rotation_deg,u95_along_mm,"
      "u95_across_mm,u95_rotation_deg,piece,text,outcome\r\n";
  std::vector<BookLoad> loads = last_loads(kAll);
  std::reverse(loads.begin(), loads.end());
  for (const BookLoad& load : loads) {
    const std::string start = std::to_string(load.id) + "," + load.time + "," + csv_text(load.photo) + "," +
                              csv_text(load.fixture) + "," + csv_text(load.design) + "," +
                              (load.batch ? std::to_string(*load.batch) : "") + "," + load.burned + ",";
    const std::lock_guard<std::mutex> guard(mutex_);
    for (const BookSlot& slot : slots_of(*database_, load.id))
      out += start + csv_text(slot.id) + "," + slot.standing + (slot.ready ? ",yes," : ",no,") +
             number_cell(slot.along_mm) + "," + number_cell(slot.across_mm) + "," + number_cell(slot.rotation_deg) +
             "," + number_cell(slot.u_along_mm) + "," + number_cell(slot.u_across_mm) + "," +
             number_cell(slot.u_rotation_deg) + "," + (slot.piece ? std::to_string(*slot.piece) : "") + "," +
             csv_text(slot.text) + "," + slot.outcome + "\r\n";
  }
  return out;
}

std::string Book::json() const {
  nlohmann::ordered_json book = {{"schema", "jigtrue.book/1"}};
  book["batches"] = nlohmann::ordered_json::array();
  book["loads"] = nlohmann::ordered_json::array();
  std::vector<std::int64_t> batches;
  {
    const std::lock_guard<std::mutex> guard(mutex_);
    Statement rows(*database_, "SELECT id FROM batches ORDER BY id");
    while (rows.next()) batches.push_back(rows.whole(0));
  }
  for (const std::int64_t id : batches) {
    const std::optional<Batch> found = batch(id);
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (const Piece& piece : pieces(id))
      list.push_back({{"number", piece.number}, {"text", text_json(piece.text)}, {"done", piece.done}});
    book["batches"].push_back({{"id", id},
                               {"name", text_json(found->name)},
                               {"time", text_json(found->time)},
                               {"done", found->done},
                               {"left", found->left()},
                               {"spoiled", found->spoiled},
                               {"pieces", list}});
  }
  std::vector<BookLoad> loads = last_loads(kAll);
  std::reverse(loads.begin(), loads.end());
  for (const BookLoad& load : loads) {
    nlohmann::ordered_json slots = nlohmann::ordered_json::array();
    const std::lock_guard<std::mutex> guard(mutex_);
    for (const BookSlot& slot : slots_of(*database_, load.id)) slots.push_back(slot_json(slot));
    book["loads"].push_back({{"id", load.id},
                             {"time", text_json(load.time)},
                             {"photo", text_json(load.photo)},
                             {"fixture", text_json(load.fixture)},
                             {"design", text_json(load.design)},
                             {"batch", load.batch ? nlohmann::ordered_json(*load.batch) : nlohmann::ordered_json()},
                             {"burned", text_json(load.burned)},
                             {"slots", slots}});
  }
  return book.dump(1) + "\n";
}

}  // namespace jigtrue
