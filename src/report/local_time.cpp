#include "jigtrue/report/local_time.hpp"

#include <array>
#include <cstdio>
#include <ctime>

namespace jigtrue {

std::string local_time(const std::string& iso_utc) {
  static constexpr std::array<const char*, 12> kMonths = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                          "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  std::tm utc{};
  char zone = 0;
  int length = 0;
  if (std::sscanf(iso_utc.c_str(), "%4d-%2d-%2dT%2d:%2d:%2d%c%n", &utc.tm_year, &utc.tm_mon, &utc.tm_mday, &utc.tm_hour,
                  &utc.tm_min, &utc.tm_sec, &zone, &length) != 7 ||
      zone != 'Z' || static_cast<std::size_t>(length) != iso_utc.size())
    return iso_utc;
  utc.tm_year -= 1900;
  utc.tm_mon -= 1;
  const std::time_t moment = timegm(&utc);
  std::tm here{};
  if (localtime_r(&moment, &here) == nullptr) return iso_utc;
  std::array<char, 64> text{};
  std::snprintf(text.data(), text.size(), "%d %s %d, %02d:%02d", here.tm_mday,
                kMonths[static_cast<std::size_t>(here.tm_mon)], here.tm_year + 1900, here.tm_hour, here.tm_min);
  return text.data();
}

}  // namespace jigtrue
