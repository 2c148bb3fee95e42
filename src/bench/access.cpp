#include "jigtrue/bench/access.hpp"

#include "jigtrue/base/error.hpp"

#include <array>
#include <cctype>
#include <cstdio>
#include <sys/random.h>

namespace jigtrue {
namespace {

HttpAnswer told(int status, const std::string& text) {
  return {status, "text/plain; charset=utf-8", text + "\n", {{"Cache-Control", "no-store"}}, {}};
}

std::string in_lower_case(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

std::string cookie_of(const HttpRequest& request, const std::string& name) {
  const std::string all = request.header("cookie");
  std::size_t at = 0;
  while (at < all.size()) {
    const std::size_t end = std::min(all.find(';', at), all.size());
    std::string one = all.substr(at, end - at);
    one.erase(0, std::min(one.find_first_not_of(' '), one.size()));
    if (one.starts_with(name + "=")) return one.substr(name.size() + 1);
    at = end + 1;
  }
  return {};
}

bool has_token(const HttpRequest& request, const AccessRules& rules) {
  const std::string bearer = request.header("authorization");
  if (bearer.starts_with("Bearer ") && same_secret(bearer.substr(7), rules.token)) return true;
  return same_secret(cookie_of(request, rules.cookie), rules.token);
}

// A page of another origin, as the browser says.
bool from_elsewhere(const HttpRequest& request, const std::string& host) {
  const auto origin = request.headers.find("origin");
  if (origin != request.headers.end() && in_lower_case(origin->second) != "http://" + host) return true;
  const std::string site = request.header("sec-fetch-site");
  return request.method == "POST" && !site.empty() && site != "same-origin" && site != "none";
}

}  // namespace

bool same_secret(const std::string& a, const std::string& b) {
  unsigned different = a.size() == b.size() ? 0U : 1U;
  for (std::size_t i = 0; i < a.size(); ++i)
    different |= static_cast<unsigned char>(a[i]) ^ static_cast<unsigned char>(b.empty() ? '\0' : b[i % b.size()]);
  return different == 0;
}

std::string new_token() {
  std::array<unsigned char, 16> bytes{};
  if (::getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size()))
    throw input_error("", "the system gives no random numbers, so there is no safe token", "listen on 127.0.0.1");
  std::string token;
  for (const unsigned char byte : bytes) {
    std::array<char, 3> digits{};
    std::snprintf(digits.data(), digits.size(), "%02x", byte);
    token += digits.data();
  }
  return token;
}

std::optional<HttpAnswer> refusal(const HttpRequest& request, const AccessRules& rules) {
  const std::string host = in_lower_case(request.header("host"));
  if (rules.hosts.count(host) == 0)
    return told(403, "the bench is not known by this name; use the address that it printed");
  if (from_elsewhere(request, host)) return told(403, "another page has sent this");
  if (rules.token.empty() || has_token(request, rules)) return std::nullopt;
  const auto given = request.query.find("token");
  if (given != request.query.end() && same_secret(given->second, rules.token)) {
    if (request.method == "POST") return std::nullopt;
    HttpAnswer on = told(303, "");
    on.headers.emplace_back("Set-Cookie", rules.cookie + "=" + rules.token + "; HttpOnly; SameSite=Strict; Path=/");
    on.headers.emplace_back("Location", "/");
    on.headers.emplace_back("Referrer-Policy", "no-referrer");
    return on;
  }
  return told(401, "this bench asks for its token: open the address that it printed, or point the phone at its code");
}

}  // namespace jigtrue
