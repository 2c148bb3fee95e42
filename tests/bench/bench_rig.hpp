// A bench of the demo, without a network: its desk, its book and what it answers.
#pragma once
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/bench/access.hpp"
#include "jigtrue/bench/bench_site.hpp"
#include "support/temporary_folder.hpp"

#include <filesystem>
#include <memory>
#include <string>

namespace jigtrue::test {

inline std::filesystem::path project_file(const std::string& name) {
  return std::filesystem::path(JIGTRUE_SOURCE_DIR) / name;
}

// With as many of the demo's six slots: a check takes as long as it has slots.
inline DeskSetup demo_desk(std::size_t slots = 6) {
  DeskSetup setup{read_camera_json(read_text_file(project_file("calib/sample/camera.json")), "camera.json"), {}};
  FixtureOffer pens;
  pens.file = "jigs/pens.json";
  pens.fixture = read_fixture(read_text_file(project_file("fixtures/demo/pens/fixture.json")), "pens.json");
  pens.fixture.slots.resize(slots);
  setup.fixtures.push_back(std::move(pens));
  setup.software_version = "test";
  setup.now = [] { return std::string("2024-05-01T12:00:00Z"); };
  return setup;
}

inline std::string demo_photo(const std::string& name = "photo.jpg") {
  return read_text_file(project_file("fixtures/demo/pens/" + name));
}

// A form as browsers send it.
inline std::string form(const std::vector<HttpPart>& parts, const std::string& path,
                        const std::string& host = "127.0.0.1:8087", const std::string& more_headers = {}) {
  std::string body;
  for (const HttpPart& part : parts) {
    body += "--xyz\r\nContent-Disposition: form-data; name=\"" + part.name + "\"";
    if (!part.file_name.empty()) body += "; filename=\"" + part.file_name + "\"";
    body += "\r\n\r\n" + part.bytes + "\r\n";
  }
  body += "--xyz--\r\n";
  return "POST " + path + " HTTP/1.1\r\nHost: " + host + "\r\n" + more_headers +
         "Content-Type: multipart/form-data; boundary=xyz\r\nContent-Length: " + std::to_string(body.size()) +
         "\r\n\r\n" + body;
}

inline std::string get(const std::string& path, const std::string& host = "127.0.0.1:8087",
                       const std::string& more_headers = {}) {
  return "GET " + path + " HTTP/1.1\r\nHost: " + host + "\r\n" + more_headers + "\r\n";
}

inline int status_of(const std::string& answer) {
  return answer.starts_with("HTTP/1.1 ") ? std::stoi(answer.substr(9, 3)) : 0;
}

inline std::string body_of(const std::string& answer) {
  const std::size_t end = answer.find("\r\n\r\n");
  return end == std::string::npos ? std::string() : answer.substr(end + 4);
}

class BenchRig {
 public:
  explicit BenchRig(DeskSetup setup = demo_desk(), const std::filesystem::path& book_file = {},
                    const std::string& token = {}, HttpLimits limits = {})
      : book(book_file),
        desk(std::move(setup), book),
        site(desk, {}),
        rules{{"127.0.0.1:8087", "localhost:8087"}, token, "jigtrue_8087"},
        server(
            limits, [this](const HttpRequest& request) { return refusal(request, rules); },
            [this](const HttpRequest& request) { return site.answer(request); }) {}

  [[nodiscard]] std::string ask(const std::string& request) { return server.answer_to(request); }

  Book book;
  Desk desk;
  BenchSite site;
  AccessRules rules;
  HttpServer server;
};

}  // namespace jigtrue::test
