#include "bench/photo_doubts.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/history/two_photos.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <ctime>

namespace jigtrue {
namespace {

constexpr double kStale_s = 900.0;  // a quarter of an hour: longer than anybody lets a photographed load wait

// From a camera's clock, which shows local time, to ours; nothing where either cannot be read.
std::optional<double> photo_age_s(const std::string& taken, const std::string& now_utc) {
  std::tm camera{};
  std::tm now{};
  const auto read = [](const std::string& text, const char* form, std::tm& to) {
    return std::sscanf(text.c_str(), form, &to.tm_year, &to.tm_mon, &to.tm_mday, &to.tm_hour, &to.tm_min, &to.tm_sec) ==
           6;
  };
  if (!read(taken, "%4d:%2d:%2d %2d:%2d:%2d", camera) || !read(now_utc, "%4d-%2d-%2dT%2d:%2d:%2d", now))
    return std::nullopt;
  for (std::tm* time : {&camera, &now}) {
    time->tm_year -= 1900;
    time->tm_mon -= 1;
    time->tm_isdst = -1;
  }
  return std::difftime(timegm(&now), std::mktime(&camera));
}

std::string age_words(double seconds) {
  const double minutes = seconds / 60.0;
  if (minutes < 120.0) return fixed_text(minutes, 0) + " minutes";
  return minutes < 2880.0 ? fixed_text(minutes / 60.0, 0) + " hours" : fixed_text(minutes / 1440.0, 0) + " days";
}

}  // namespace

std::optional<std::string> stale_photo(const std::string& taken, const std::string& now_utc) {
  const std::optional<double> age_s = photo_age_s(taken, now_utc);
  if (!age_s || *age_s <= kStale_s) return std::nullopt;
  return "By its own clock this photo was taken " + age_words(*age_s) + " ago: does the load still lie as it shows?";
}

std::vector<std::string> focal_doubts(const ExifFacts& facts, const std::optional<double>& first_mm) {
  constexpr double kZoomed = 1.005;  // a file's own rounding stays below
  constexpr double kOther = 0.01;    // of the focal length
  std::vector<std::string> told;
  if (facts.zoom && *facts.zoom > kZoomed)
    told.push_back("The photo was zoomed " + fixed_text(*facts.zoom, 1) +
                   " times: unless the lens was calibrated so, every place is wrong.");
  if (facts.focal_mm && first_mm && std::abs(*facts.focal_mm / *first_mm - 1.0) > kOther)
    told.push_back("The photo was taken at " + fixed_text(*facts.focal_mm, 1) + " mm, the first one of this bench at " +
                   fixed_text(*first_mm, 1) +
                   " mm: another of the camera's lenses, or zoomed. Every place may be wrong.");
  return told;
}

std::optional<std::string> lies_as_burned(const Book& book, const BookLoad& load) {
  const std::vector<BookLoad> standing = book.last_standing_loads(2);
  const auto burned =
      std::find_if(standing.begin(), standing.end(), [](const BookLoad& one) { return !one.burned.empty(); });
  if (burned == standing.end() || burned->fixture != load.fixture) return std::nullopt;
  if (!lie_alike(book.load(burned->id)->slots, load.slots)) return std::nullopt;
  return "The blanks lie where they lay in load " + std::to_string(burned->id) +
         ", which was burned already: was the jig loaded anew?";
}

bool lie_alike(const std::vector<BookSlot>& a, const std::vector<BookSlot>& b) {
  constexpr double kOneLoad = 0.72;  // sqrt(2) / 1.96
  TwoPhotos all;
  for (const BookSlot& slot : a) {
    const auto other = std::find_if(b.begin(), b.end(), [&](const BookSlot& one) { return one.id == slot.id; });
    if (other == b.end() || slot.across_mm.has_value() != other->across_mm.has_value()) return false;
    all.add(slot.across_mm, other->across_mm, slot.u_across_mm, other->u_across_mm);
    all.add(slot.along_mm, other->along_mm, slot.u_along_mm, other->u_along_mm);
    all.add(slot.rotation_deg, other->rotation_deg, slot.u_rotation_deg, other->u_rotation_deg);
  }
  return all.apart().value_or(kOneLoad + 1.0) <= kOneLoad;
}

}  // namespace jigtrue
