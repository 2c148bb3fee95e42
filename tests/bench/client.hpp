// One connection to a server on this machine, as plain bytes.
#pragma once
#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdexcept>
#include <string>
#include <sys/socket.h>
#include <unistd.h>

namespace jigtrue::test {

class Client {
 public:
  Client(int port, const std::string& request) : socket_(::socket(AF_INET, SOCK_STREAM, 0)) {
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(static_cast<std::uint16_t>(port));
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (::connect(socket_, reinterpret_cast<const sockaddr*>(&to), sizeof to) != 0)
      throw std::runtime_error("nobody listens there");
    send(request);
  }
  Client(const Client&) = delete;
  Client& operator=(const Client&) = delete;
  ~Client() { ::close(socket_); }

  void send(const std::string& bytes) {
    for (std::size_t at = 0; at < bytes.size();) {
      const ssize_t sent = ::send(socket_, bytes.data() + at, bytes.size() - at, MSG_NOSIGNAL);
      if (sent <= 0) return;
      at += static_cast<std::size_t>(sent);
    }
  }

  // Until the connection is closed, `until` was received or nothing came for so long.
  std::string answer(double seconds, const std::string& until = {}) {
    std::string all;
    std::string piece(65536, '\0');
    pollfd one{socket_, POLLIN, 0};
    while (::poll(&one, 1, static_cast<int>(seconds * 1000.0)) > 0) {
      const ssize_t got = ::recv(socket_, piece.data(), piece.size(), 0);
      if (got <= 0) break;
      all.append(piece.data(), static_cast<std::size_t>(got));
      if (!until.empty() && all.find(until) != std::string::npos) break;
    }
    return all;
  }

 private:
  int socket_;
};

}  // namespace jigtrue::test
