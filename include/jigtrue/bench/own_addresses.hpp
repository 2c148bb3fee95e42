// What this machine is called on its network, and how a phone gets there.
#pragma once
#include <set>
#include <string>
#include <vector>

namespace jigtrue {

struct ListenAddress {
  std::string address = "127.0.0.1";
  int port = 8087;

  [[nodiscard]] bool is_loopback() const;
  [[nodiscard]] bool is_any() const;  // every address of the machine
};
// "192.168.1.20:8087", "[::1]:8087", "0.0.0.0:0". Throws InputError.
[[nodiscard]] ListenAddress read_listen_address(const std::string& text);

// IPv4 addresses of this machine's network interfaces but for the loopback's, as text.
[[nodiscard]] std::vector<std::string> own_addresses();

// What the Host of a request to this address may be, with the port, in lower case.
[[nodiscard]] std::set<std::string> host_names(const ListenAddress& listen);
// The address that people open, "http://192.168.1.20:8087/": of any address the first of the network's.
[[nodiscard]] std::string page_address(const ListenAddress& listen);

// A QR code (ISO/IEC 18004) as lines of block characters, two modules high each, dark on light whatever the terminal's
// colours.
[[nodiscard]] std::string qr_text(const std::string& content);
// The same as an SVG element for a page; empty when it cannot be made. `label`: markup, what it is for who cannot see.
[[nodiscard]] std::string qr_svg(const std::string& content, const std::string& label);

}  // namespace jigtrue
