#include "jigtrue/bench/http_server.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <atomic>
#include <cctype>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <httplib.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

namespace jigtrue {
namespace {

using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) { return std::chrono::duration<double>(Clock::now() - start).count(); }

// A connection that keeps count of what it costs. Time counts only while the other side keeps us waiting, so that an
// answer that takes long to make, or a stream of events, is not cut.
class BoundedStream : public httplib::Stream {
 public:
  explicit BoundedStream(const HttpLimits& limits) : limits_(limits) {}

  void headers_are_read() { in_headers_ = false; }

  ssize_t read(char* to, size_t size) override {
    if (at_ == buffer_.size() && !refill()) return -1;
    const std::size_t count = std::min(size, buffer_.size() - at_);
    std::copy_n(buffer_.data() + at_, count, to);
    at_ += count;
    read_bytes_ += count;
    if (in_headers_ && read_bytes_ > limits_.most_header_bytes) return -1;
    return static_cast<ssize_t>(count);
  }
  bool is_readable() const override { return true; }
  // nobody here asks who is at the other end
  void get_remote_ip_and_port(std::string& ip, int& port) const override {
    ip.clear();
    port = 0;
  }
  void get_local_ip_and_port(std::string& ip, int& port) const override {
    ip.clear();
    port = 0;
  }

 protected:
  // What is left of the patience for so many bytes, ms.
  [[nodiscard]] int patience_ms(double waited_s, std::size_t bytes) const {
    const double left_s = limits_.patience_s + static_cast<double>(bytes) / limits_.least_bytes_per_s - waited_s;
    return left_s > 0.0 ? static_cast<int>(left_s * 1000.0) + 1 : 0;
  }
  virtual ssize_t receive(char* to, std::size_t size) = 0;
  [[nodiscard]] std::size_t read_bytes() const { return read_bytes_; }

 private:
  bool refill() {
    buffer_.resize(std::size_t{64} << 10);
    at_ = 0;
    const ssize_t got = receive(buffer_.data(), buffer_.size());
    buffer_.resize(got > 0 ? static_cast<std::size_t>(got) : 0);
    return got > 0;
  }

  HttpLimits limits_;
  std::string buffer_;
  std::size_t at_ = 0;
  std::size_t read_bytes_ = 0;
  bool in_headers_ = true;
};

class SocketStream : public BoundedStream {
 public:
  SocketStream(socket_t socket, const HttpLimits& limits) : BoundedStream(limits), socket_(socket) {}

  bool is_writable() const override {
    pollfd one{socket_, POLLOUT, 0};
    return ::poll(&one, 1, 0) > 0 && (one.revents & (POLLERR | POLLHUP)) == 0;
  }
  ssize_t write(const char* from, size_t size) override {
    std::size_t done = 0;
    while (done < size) {
      if (!wait(POLLOUT, write_waited_s_, written_)) return -1;
      const ssize_t sent = ::send(socket_, from + done, size - done, MSG_NOSIGNAL | MSG_DONTWAIT);
      if (sent < 0 && (errno == EAGAIN || errno == EINTR)) continue;
      if (sent <= 0) return -1;
      done += static_cast<std::size_t>(sent);
      written_ += static_cast<std::size_t>(sent);
    }
    return static_cast<ssize_t>(size);
  }
  socket_t socket() const override { return socket_; }

  // A request that was refused half-way may still be under way: what is left is read for a while, for a connection that
  // is closed upon unread bytes is reset, and the answer lost with it.
  void finish() {
    ::shutdown(socket_, SHUT_WR);
    std::string sink(std::size_t{64} << 10, '\0');
    const Clock::time_point start = Clock::now();
    while (seconds_since(start) < 2.0) {
      pollfd one{socket_, POLLIN, 0};
      if (::poll(&one, 1, 500) <= 0 || ::recv(socket_, sink.data(), sink.size(), MSG_DONTWAIT) <= 0) break;
    }
    ::close(socket_);
  }

 protected:
  ssize_t receive(char* to, std::size_t size) override {
    for (;;) {
      if (!wait(POLLIN, read_waited_s_, read_bytes())) return -1;
      const ssize_t got = ::recv(socket_, to, size, MSG_DONTWAIT);
      if (got >= 0 || (errno != EAGAIN && errno != EINTR)) return got;
    }
  }

 private:
  [[nodiscard]] bool wait(short events, double& waited_s, std::size_t bytes) const {
    const int patience = patience_ms(waited_s, bytes);
    if (patience == 0) return false;
    pollfd one{socket_, events, 0};
    const Clock::time_point start = Clock::now();
    const int ready = ::poll(&one, 1, patience);
    waited_s += seconds_since(start);
    return ready > 0 || (ready < 0 && errno == EINTR);
  }

  socket_t socket_;
  double read_waited_s_ = 0.0;
  double write_waited_s_ = 0.0;
  std::size_t written_ = 0;
};

// A request in memory, and the answer to it.
class TextStream : public BoundedStream {
 public:
  TextStream(const std::string& request, const HttpLimits& limits) : BoundedStream(limits), request_(request) {}

  bool is_writable() const override { return true; }
  ssize_t write(const char* from, size_t size) override {
    answer.append(from, size);
    return static_cast<ssize_t>(size);
  }
  socket_t socket() const override { return INVALID_SOCKET; }

  std::string answer;

 protected:
  ssize_t receive(char* to, std::size_t size) override {
    const std::size_t count = std::min(size, request_.size() - at_);
    std::copy_n(request_.data() + at_, count, to);
    at_ += count;
    return static_cast<ssize_t>(count);
  }

 private:
  const std::string& request_;
  std::size_t at_ = 0;
};

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

HttpRequest request_of(const httplib::Request& from) {
  HttpRequest request;
  request.method = from.method;
  request.path = from.path;
  for (const auto& [key, value] : from.params) request.query.try_emplace(key, value);
  for (const auto& [name, value] : from.headers) {
    const auto [at, is_new] = request.headers.try_emplace(lower(name), value);
    if (!is_new) at->second += ", " + value;
  }
  return request;
}

void give(HttpAnswer answer, httplib::Response& response) {
  response.status = answer.status;
  for (const auto& [name, value] : answer.headers) response.set_header(name, value);
  if (!answer.next_piece) {
    response.set_content(answer.body, answer.type);
    return;
  }
  auto next = std::make_shared<std::function<std::optional<std::string>()>>(std::move(answer.next_piece));
  response.set_chunked_content_provider(answer.type, [next](std::size_t, httplib::DataSink& sink) {
    const std::optional<std::string> piece = (*next)();
    if (!piece) {
      sink.done();
      return true;
    }
    return sink.is_writable() && sink.write(piece->data(), piece->size());
  });
}

std::optional<std::size_t> whole_number(const std::string& text) {
  if (text.empty() || text.size() > 15 || text.find_first_not_of("0123456789") != std::string::npos)
    return std::nullopt;
  return std::stoull(text);
}

// Bytes of bodies that are held at once.
class Held {
 public:
  Held(std::atomic<std::size_t>& all, std::size_t bytes, std::size_t most) : all_(all), bytes_(bytes) {
    fits_ = all_.fetch_add(bytes_) + bytes_ <= most;
  }
  Held(const Held&) = delete;
  Held& operator=(const Held&) = delete;
  ~Held() { all_.fetch_sub(bytes_); }
  [[nodiscard]] bool fits() const { return fits_; }

 private:
  std::atomic<std::size_t>& all_;
  std::size_t bytes_;
  bool fits_ = false;
};

HttpAnswer plain(int status, const std::string& text) {
  return {status, "text/plain; charset=utf-8", text + "\n", {}, {}};
}

}  // namespace

std::string HttpRequest::header(const std::string& lower_case_name) const {
  const auto found = headers.find(lower_case_name);
  return found == headers.end() ? std::string() : found->second;
}

const HttpPart* HttpRequest::part(const std::string& name) const {
  const auto found = std::find_if(parts.begin(), parts.end(), [&](const HttpPart& one) { return one.name == name; });
  return found == parts.end() ? nullptr : &*found;
}

std::string HttpRequest::field(const std::string& name) const {
  const HttpPart* found = part(name);
  return found == nullptr ? std::string() : found->bytes;
}

class HttpServer::Connections : public httplib::Server {
 public:
  Connections(HttpLimits limits, HttpServer::Gate gate, HttpServer::Handler handler)
      : limits_(limits), gate_(std::move(gate)), handler_(std::move(handler)) {
    new_task_queue = [count = limits_.threads] { return new httplib::ThreadPool(static_cast<std::size_t>(count)); };
    set_payload_max_length(limits_.most_body_bytes);
    set_tcp_nodelay(true);
    // two programs must not share a port
    set_socket_options([](socket_t socket) {
      const int yes = 1;
      ::setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    });
    set_expect_100_continue_handler([this](const httplib::Request& from, httplib::Response& response) {
      const std::optional<HttpAnswer> refusal = refused(request_of(from));
      if (!refusal) return 100;
      give(*refusal, response);
      return refusal->status;
    });
    set_pre_routing_handler([this](const httplib::Request& from, httplib::Response& response) {
      const std::optional<HttpAnswer> refusal = refused(request_of(from));
      if (!refusal) return HandlerResponse::Unhandled;
      give(*refusal, response);
      return HandlerResponse::Handled;
    });
    Get(".*", [this](const httplib::Request& from, httplib::Response& response) {
      give(handled(request_of(from)), response);
    });
    Post(".*", [this](const httplib::Request& from, httplib::Response& response, const httplib::ContentReader& reader) {
      give(posted(from, reader), response);
    });
  }

  void answer(BoundedStream& stream) {
    bool closed = false;
    process_request(stream, true, closed, [&stream](httplib::Request& request) {
      stream.headers_are_read();
      request.ranges.clear();
    });
  }

  // The library lets five callers wait at the door; the next would try again after a second or three.
  void let_more_wait() const { ::listen(svr_sock_, SOMAXCONN); }

  [[nodiscard]] const HttpLimits& limits() const { return limits_; }

 private:
  bool process_and_close_socket(socket_t socket) override {
    SocketStream stream(socket, limits_);
    answer(stream);
    stream.finish();
    return true;
  }

  [[nodiscard]] std::optional<HttpAnswer> refused(const HttpRequest& request) const {
    if (request.method != "GET" && request.method != "HEAD" && request.method != "POST")
      return plain(405, "only GET, HEAD and POST are known here");
    if (gate_)
      if (std::optional<HttpAnswer> refusal = gate_(request)) return refusal;
    if (!request.header("content-encoding").empty()) return plain(415, "send it without a content encoding");
    if (!request.header("transfer-encoding").empty()) return plain(411, "send it in one piece, with its length");
    const std::string length = request.header("content-length");
    if (length.empty()) return std::nullopt;
    const std::optional<std::size_t> bytes = whole_number(length);
    if (!bytes) return plain(400, "its length is no number");
    if (*bytes > 0 && request.method != "POST") return plain(400, "a question has no body");
    if (*bytes > limits_.most_body_bytes)
      return plain(413, "it is larger than " + std::to_string(limits_.most_body_bytes >> 20) + " MB");
    return std::nullopt;
  }

  HttpAnswer handled(const HttpRequest& request) const {
    try {
      return handler_(request);
    } catch (const std::exception&) {
      return plain(500, "a fault of the program; its terminal says more");
    }
  }

  HttpAnswer posted(const httplib::Request& from, const httplib::ContentReader& reader) {
    HttpRequest request = request_of(from);
    const std::size_t length = whole_number(request.header("content-length")).value_or(0);
    if (length == 0) return handled(request);
    if (!from.is_multipart_form_data()) return plain(415, "send it as a form (multipart/form-data)");
    const Held held(held_bytes_, length, limits_.most_held_bytes);
    if (!held.fits()) {
      HttpAnswer busy = plain(503, "too many photos are coming at once; send it again");
      busy.headers.emplace_back("Retry-After", "2");
      return busy;
    }
    std::size_t bytes = 0;
    const bool whole = reader(
        [&](const httplib::MultipartFormData& part) {
          if (request.parts.size() >= limits_.most_parts || part.name.size() > 200 || part.filename.size() > 1000)
            return false;
          request.parts.push_back({part.name, part.filename, {}});
          if (request.parts.size() == 1) request.parts.back().bytes.reserve(length);
          return true;
        },
        [&](const char* data, std::size_t size) {
          bytes += size;
          if (bytes > length || request.parts.empty()) return false;
          request.parts.back().bytes.append(data, size);
          return true;
        });
    if (!whole) return plain(400, "the form broke off, came too slowly or cannot be read");
    return handled(request);
  }

  HttpLimits limits_;
  HttpServer::Gate gate_;
  HttpServer::Handler handler_;
  std::atomic<std::size_t> held_bytes_ = 0;
};

HttpServer::HttpServer(HttpLimits limits, Gate gate, Handler handler)
    : connections_(std::make_unique<Connections>(limits, std::move(gate), std::move(handler))) {}
HttpServer::~HttpServer() = default;

int HttpServer::bind(const std::string& address, int port) {
  const int bound = port == 0                                   ? connections_->bind_to_any_port(address)
                    : connections_->bind_to_port(address, port) ? port
                                                                : -1;
  if (bound <= 0)
    throw input_error(address + ":" + std::to_string(port), "cannot be listened on",
                      "another program may have the port, or the address is not this machine's: give another with "
                      "--listen");
  connections_->let_more_wait();
  return bound;
}

void HttpServer::run() { connections_->listen_after_bind(); }
void HttpServer::stop() { connections_->stop(); }

std::string HttpServer::answer_to(const std::string& request) {
  TextStream stream(request, connections_->limits());
  connections_->answer(stream);
  return stream.answer;
}

}  // namespace jigtrue
