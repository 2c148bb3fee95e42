// Answers HTTP requests, one a connection, with bounds on everything that a request may take: bytes, time, memory and
// threads. What is asked and what is answered are plain values; the library behind it shows nowhere else.
#pragma once
#include <cstddef>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace jigtrue {

// One field of a form (RFC 7578).
struct HttpPart {
  std::string name;
  std::string file_name;  // as the sender has it: never a path of ours
  std::string bytes;
};

struct HttpRequest {
  std::string method;
  std::string path;                            // percent-decoded, without the query
  std::map<std::string, std::string> query;    // each key's first value
  std::map<std::string, std::string> headers;  // names in lower case; one that came twice holds both, ", " between
  std::vector<HttpPart> parts;                 // empty until the gate has let the request in

  [[nodiscard]] std::string header(const std::string& lower_case_name) const;
  [[nodiscard]] const HttpPart* part(const std::string& name) const;  // null if there is none
  [[nodiscard]] std::string field(const std::string& name) const;     // a part's bytes; empty if there is none
};

struct HttpAnswer {
  int status = 200;
  std::string type = "text/plain; charset=utf-8";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers;
  // Instead of a body: each call waits for the next piece; nothing ends the answer.
  std::function<std::optional<std::string>()> next_piece;
};

struct HttpLimits {
  std::size_t most_header_bytes = 32u << 10;
  std::size_t most_body_bytes = 64u << 20;   // of one request
  std::size_t most_held_bytes = 256u << 20;  // of all requests' bodies together; beyond it 503
  std::size_t most_parts = 16;
  // How long a request or an answer may keep us waiting: this, and a second more for every so many bytes.
  double patience_s = 10.0;
  double least_bytes_per_s = 64.0 * 1024.0;
  int threads = 64;
};

class HttpServer {
 public:
  // Asked once the headers are read and before the body is: an answer refuses the request.
  using Gate = std::function<std::optional<HttpAnswer>(const HttpRequest&)>;
  using Handler = std::function<HttpAnswer(const HttpRequest&)>;

  // Both are called from several threads at once. An exception of theirs becomes status 500.
  HttpServer(HttpLimits limits, Gate gate, Handler handler);
  HttpServer(const HttpServer&) = delete;
  HttpServer& operator=(const HttpServer&) = delete;
  ~HttpServer();

  // Port 0: any free one. Returns the port. Throws InputError when the address is not this machine's or the port is
  // taken.
  int bind(const std::string& address, int port);
  void run();   // until stop()
  void stop();  // from any thread; answers that are streams must end by themselves

  // What a connection that sends these bytes and closes would be answered.
  [[nodiscard]] std::string answer_to(const std::string& request);

 private:
  class Connections;
  std::unique_ptr<Connections> connections_;
};

}  // namespace jigtrue
