// Who may ask: only pages and people of the bench itself.
#pragma once
#include "jigtrue/bench/http_server.hpp"

#include <optional>
#include <set>
#include <string>

namespace jigtrue {

struct AccessRules {
  std::set<std::string> hosts;  // what a request's Host may be: "127.0.0.1:8087", in lower case
  std::string token;            // empty: none is asked for
  std::string cookie;           // the name under which a browser keeps the token
};

// Requests whose Host is not the bench's own (another name that leads here: DNS rebinding), whose Origin is another
// page, or that lack the token, are answered 403, 403 and 401; one that brings the token in its address gets it as a
// cookie and is sent on without it (303). Nothing when the request may pass.
[[nodiscard]] std::optional<HttpAnswer> refusal(const HttpRequest& request, const AccessRules& rules);

// 32 hexadecimal digits from the system's source of randomness.
[[nodiscard]] std::string new_token();

// Equal, in a time that does not tell where they differ.
[[nodiscard]] bool same_secret(const std::string& a, const std::string& b);

}  // namespace jigtrue
