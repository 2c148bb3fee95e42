#include "jigtrue/bench/own_addresses.hpp"

#include "jigtrue/base/error.hpp"

#include <arpa/inet.h>
#include <array>
#include <cctype>
#include <ifaddrs.h>
#include <memory>
#include <net/if.h>
#include <netinet/in.h>
#include <qrencode.h>
#include <unistd.h>

namespace jigtrue {
namespace {

std::string with_port(const std::string& host, int port) {
  std::string out = host.find(':') != std::string::npos ? "[" + host + "]" : host;
  out += ":" + std::to_string(port);
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

class Modules {
 public:
  explicit Modules(const std::string& content)
      : code_(QRcode_encodeString8bit(content.c_str(), 0, QR_ECLEVEL_M), QRcode_free) {}

  [[nodiscard]] int width() const { return code_ ? code_->width : 0; }
  [[nodiscard]] bool dark(int row, int column) const {
    if (row < 0 || column < 0 || row >= width() || column >= width()) return false;
    return (code_->data[row * width() + column] & 1) != 0;
  }

 private:
  std::unique_ptr<QRcode, void (*)(QRcode*)> code_;
};

std::string machine_name() {
  std::array<char, 256> name{};
  return ::gethostname(name.data(), name.size() - 1) == 0 ? std::string(name.data()) : std::string();
}

}  // namespace

bool ListenAddress::is_loopback() const {
  return address.starts_with("127.") || address == "::1" || address == "localhost";
}
bool ListenAddress::is_any() const { return address == "0.0.0.0" || address == "::"; }

ListenAddress read_listen_address(const std::string& text) {
  const std::size_t colon = text.rfind(':');
  const auto wrong = [&] {
    return input_error("--listen " + text, "is not ADDRESS:PORT", "write it like --listen 192.168.1.20:8087");
  };
  if (colon == std::string::npos || colon == 0) throw wrong();
  ListenAddress listen;
  listen.address = text.substr(0, colon);
  if (listen.address.starts_with("[") && listen.address.ends_with("]"))
    listen.address = listen.address.substr(1, listen.address.size() - 2);
  const std::string port = text.substr(colon + 1);
  if (port.empty() || port.size() > 5 || port.find_first_not_of("0123456789") != std::string::npos) throw wrong();
  listen.port = std::stoi(port);
  std::array<unsigned char, sizeof(in6_addr)> parsed{};
  const bool is_address = listen.address == "localhost" ||
                          ::inet_pton(AF_INET, listen.address.c_str(), parsed.data()) == 1 ||
                          ::inet_pton(AF_INET6, listen.address.c_str(), parsed.data()) == 1;
  if (listen.port > 65535 || !is_address) throw wrong();
  return listen;
}

std::vector<std::string> own_addresses() {
  ifaddrs* first = nullptr;
  if (::getifaddrs(&first) != 0) return {};
  const std::unique_ptr<ifaddrs, void (*)(ifaddrs*)> all(first, ::freeifaddrs);
  std::vector<std::string> out;
  for (const ifaddrs* one = all.get(); one != nullptr; one = one->ifa_next) {
    if (one->ifa_addr == nullptr || one->ifa_addr->sa_family != AF_INET || (one->ifa_flags & IFF_LOOPBACK) != 0)
      continue;
    std::array<char, INET_ADDRSTRLEN> text{};
    const auto* address = reinterpret_cast<const sockaddr_in*>(one->ifa_addr);
    if (::inet_ntop(AF_INET, &address->sin_addr, text.data(), text.size()) != nullptr) out.emplace_back(text.data());
  }
  return out;
}

std::set<std::string> host_names(const ListenAddress& listen) {
  std::set<std::string> hosts;
  const auto add = [&](const std::string& host) {
    if (host.empty()) return;
    hosts.insert(with_port(host, listen.port));
    if (listen.port == 80) hosts.insert(with_port(host, 80).substr(0, with_port(host, 80).size() - 3));
  };
  if (listen.is_loopback() || listen.is_any())
    for (const char* host : {"127.0.0.1", "localhost", "::1"}) add(host);
  add(listen.address);
  if (listen.is_loopback()) return hosts;
  if (listen.is_any())
    for (const std::string& address : own_addresses()) add(address);
  add(machine_name());
  if (const std::string name = machine_name(); !name.empty()) add(name + ".local");
  return hosts;
}

std::string page_address(const ListenAddress& listen) {
  std::string host = listen.address;
  if (listen.is_any()) {
    const std::vector<std::string> own = own_addresses();
    host = own.empty() ? "127.0.0.1" : own.front();
  }
  return "http://" + with_port(host, listen.port) + "/";
}

std::string qr_text(const std::string& content) {
  const Modules code(content);
  if (code.width() == 0) return {};
  constexpr int kQuiet = 2;  // modules about it; four are asked for, two do on a terminal's margin
  std::string out;
  for (int row = -kQuiet; row < code.width() + kQuiet; row += 2) {
    out += "\x1b[30;107m";
    for (int column = -kQuiet; column < code.width() + kQuiet; ++column) {
      const bool upper = code.dark(row, column);
      const bool lower = code.dark(row + 1, column);
      out += upper && lower ? "\xE2\x96\x88" : upper ? "\xE2\x96\x80" : lower ? "\xE2\x96\x84" : " ";
    }
    out += "\x1b[0m\n";
  }
  return out;
}

std::string qr_svg(const std::string& content, const std::string& label) {
  const Modules code(content);
  if (code.width() == 0) return {};
  constexpr int kQuiet = 4;
  const std::string side = std::to_string(code.width() + 2 * kQuiet);
  std::string out = "<svg class=\"qr\" role=\"img\" aria-label=\"" + label + "\" viewBox=\"0 0 " + side + " " + side +
                    "\" shape-rendering=\"crispEdges\"><path fill=\"#fff\" d=\"M0 0h" + side + "v" + side +
                    "H0z\"/><path fill=\"#000\" d=\"";
  for (int row = 0; row < code.width(); ++row)
    for (int column = 0; column < code.width(); ++column)
      if (code.dark(row, column))
        out += "M" + std::to_string(column + kQuiet) + " " + std::to_string(row + kQuiet) + "h1v1h-1z";
  return out + "\"/></svg>";
}

}  // namespace jigtrue
