#include "jigtrue/bench/bench_site.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/layout/name_list.hpp"

#include <algorithm>
#include <array>
#include <utility>

#include "bench/pages.hpp"

namespace jigtrue {
namespace {

constexpr int kMostListeners = 24;
constexpr std::size_t kMostPieces = 2000;

constexpr const char* kNoPhoto = "the form has no photo (field \"photo\")";
constexpr const char* kOwnPolicy =
    "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; connect-src 'self'; form-action "
    "'self'; base-uri 'none'; frame-ancestors 'none'";
// the loads' files bring their own styles and pictures, and no script
constexpr const char* kFilePolicy =
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'";

// the mark that jigtrue measures by
constexpr const char* kIcon =
    "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 16 16\"><path fill=\"#f4f1e8\" d=\"M0 0h16v16H0z\"/><path "
    "fill=\"#17212b\" d=\"M2 8h6v6H2zM8 2h6v6H8z\"/></svg>\n";

HttpAnswer with_policy(HttpAnswer answer, const char* policy) {
  answer.headers.emplace_back("Content-Security-Policy", policy);
  answer.headers.emplace_back("X-Content-Type-Options", "nosniff");
  answer.headers.emplace_back("Referrer-Policy", "no-referrer");
  answer.headers.emplace_back("Cross-Origin-Resource-Policy", "same-origin");
  answer.headers.emplace_back("Cache-Control", "no-store");
  return answer;
}

HttpAnswer content(const char* type, std::string body) {
  return with_policy({200, type, std::move(body), {}, {}}, kOwnPolicy);
}

HttpAnswer words(int status, const std::string& text) {
  return with_policy({status, "text/plain; charset=utf-8", text + "\n", {}, {}}, kOwnPolicy);
}

HttpAnswer missing() { return words(404, "there is nothing here; the bench's page is /"); }

struct LoadFile {
  const char* name;
  const char* type;
  bool always;  // of every load; the others only where there was need
};
constexpr std::array<LoadFile, 13> kLoadFiles = {{{"report.html", "text/html; charset=utf-8", true},
                                                  {"report.json", "application/json", true},
                                                  {"offsets.csv", "text/csv; charset=utf-8", true},
                                                  {"layout.svg", "image/svg+xml", true},
                                                  {"layout.dxf", "image/vnd.dxf", true},
                                                  {"annotated.jpg", "image/jpeg", true},
                                                  {"closeup.jpg", "image/jpeg", true},
                                                  {"moved.jpg", "image/jpeg", false},
                                                  {"inspection.html", "text/html; charset=utf-8", false},
                                                  {"inspection.json", "application/json", false},
                                                  {"inspected.jpg", "image/jpeg", false},
                                                  {"again.svg", "image/svg+xml", false},
                                                  {"again.dxf", "image/vnd.dxf", false}}};

std::optional<std::int64_t> id_of(const std::string& text) {
  if (text.empty() || text.size() > 15 || text.find_first_not_of("0123456789") != std::string::npos)
    return std::nullopt;
  return std::stoll(text);
}

// "/loads/12/report.json" after "/loads/": {12, "report.json"}; nothing when there is no number or no second slash.
struct IdAndRest {
  std::int64_t id = 0;
  bool slash = false;
  std::string rest;
};
std::optional<IdAndRest> id_and_rest(const std::string& path, const std::string& start) {
  if (!path.starts_with(start)) return std::nullopt;
  const std::string tail = path.substr(start.size());
  const std::size_t slash = tail.find('/');
  const std::optional<std::int64_t> id = id_of(tail.substr(0, slash));
  if (!id) return std::nullopt;
  return IdAndRest{*id, slash != std::string::npos, slash == std::string::npos ? "" : tail.substr(slash + 1)};
}

// For people: no path, no control characters, not endless.
std::string shown_name(const std::string& sent) {
  std::string name = sent.substr(sent.find_last_of("/\\") + 1);
  for (char& c : name)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = '_';
  if (name.size() > 100) name.resize(100);
  return name.empty() ? "photo.jpg" : valid_utf8(name);
}

std::string stripped_line(const std::string& line) {
  const std::size_t first = line.find_first_not_of(" \t\r");
  if (first == std::string::npos) return {};
  return line.substr(first, line.find_last_not_of(" \t\r") - first + 1);
}

int status_of(const InputError& error) { return error.failure().code == FailureCode::disk_full ? 507 : 422; }

}  // namespace

std::vector<std::string> read_piece_names(const std::string& list) {
  std::vector<std::string> out;
  std::string text = list.starts_with("\xEF\xBB\xBF") ? list.substr(3) : list;
  if (valid_utf8(text) != text) throw input_error("names", "they are not UTF-8 text", "save the list as UTF-8");
  const std::string head = stripped_line(text.substr(0, text.find('\n')));
  if (head.find_first_of(",;\"") != std::string::npos || head == "text") {
    out = read_texts(text, "names");
  } else {
    for (std::size_t at = 0; at < text.size();) {
      const std::size_t end = std::min(text.find('\n', at), text.size());
      if (std::string line = stripped_line(text.substr(at, end - at)); !line.empty()) out.push_back(std::move(line));
      at = end + 1;
    }
  }
  if (out.empty()) throw input_error("names", "the list holds none", "write one on each line");
  if (out.size() > kMostPieces) throw input_error("names", "the list holds more than 2000", "split it");
  for (const std::string& name : out)
    if (name.size() > 200 ||
        std::any_of(name.begin(), name.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20; }))
      throw input_error("names", "one of them is longer than 200 letters, or holds control characters",
                        "mend \"" + ascii_text(name.substr(0, 40)) + "\"");
  return out;
}

BenchSite::BenchSite(Desk& desk, SiteOptions options) : desk_(desk), options_(std::move(options)) {}

void BenchSite::offer_to_phones(const std::string& address) { options_.phone = address; }

void BenchSite::close() {
  closed_ = true;
  desk_.wake();
}

HttpAnswer BenchSite::answer(const HttpRequest& request) {
  try {
    return request.method == "POST" ? post(request) : get(request);
  } catch (const InputError& error) {
    return words(status_of(error), error.what());
  }
}

HttpAnswer BenchSite::get(const HttpRequest& request) {
  const std::string& path = request.path;
  if (path == "/") return content("text/html; charset=utf-8", bench::page(desk_, options_));
  if (path == "/view") return content("text/html; charset=utf-8", bench::view(desk_, options_));
  if (path == "/events") return events();
  if (path == "/bench.css") return content("text/css; charset=utf-8", bench::style());
  if (path == "/bench.js") return content("text/javascript; charset=utf-8", bench::script());
  if (path == "/icon.svg") return content("image/svg+xml", kIcon);
  if (path == "/book.csv") return content("text/csv; charset=utf-8", desk_.book().csv());
  if (path == "/book.json") return content("application/json", desk_.book().json());
  if (path == "/moved.jpg") {
    const DeskState state = desk_.state();
    if (!state.refusal || state.refusal->picture.empty()) return missing();
    return content("image/jpeg", state.refusal->picture);
  }
  if (path.starts_with("/loads/")) return load_file(path);
  if (const auto batch = id_and_rest(path, "/batches/"); batch && batch->rest == "list") {
    const std::optional<Batch> found = desk_.book().batch(batch->id);
    return found ? content("text/html; charset=utf-8", bench::packing_list(desk_.book(), *found)) : missing();
  }
  return missing();
}

HttpAnswer BenchSite::load_file(const std::string& path) const {
  const auto load = id_and_rest(path, "/loads/");
  if (!load) return missing();
  if (!load->slash) {
    HttpAnswer on = words(308, "");
    on.headers.emplace_back("Location", "/loads/" + std::to_string(load->id) + "/");
    return on;
  }
  const std::string name = load->rest.empty() ? "report.html" : load->rest;
  const auto known =
      std::find_if(kLoadFiles.begin(), kLoadFiles.end(), [&](const LoadFile& f) { return name == f.name; });
  if (known == kLoadFiles.end()) return missing();
  std::optional<std::string> bytes = desk_.book().file(load->id, name);
  // of a load that was taken before there were any
  if (!bytes && name == "closeup.jpg") bytes = desk_.book().file(load->id, "annotated.jpg");
  if (!bytes) {
    if (known->always && desk_.book().load(load->id))
      return words(410, "this load's files were let go; its numbers are in the book");
    return missing();
  }
  HttpAnswer file = with_policy({200, known->type, *bytes, {}, {}}, kFilePolicy);
  if (name == "layout.svg" || name == "layout.dxf")
    file.headers.emplace_back("Content-Disposition",
                              "inline; filename=\"load-" + std::to_string(load->id) + "-" + name + "\"");
  return file;
}

HttpAnswer BenchSite::events() {
  struct Listener {
    explicit Listener(std::shared_ptr<std::atomic<int>> all) : count(std::move(all)) { ++*count; }
    Listener(const Listener&) = delete;
    Listener& operator=(const Listener&) = delete;
    ~Listener() { --*count; }
    std::shared_ptr<std::atomic<int>> count;
    std::uint64_t seen = 0;
    bool first = true;
  };
  auto listener = std::make_shared<Listener>(listeners_);
  if (*listeners_ > kMostListeners) return words(503, "too many pages are open");
  HttpAnswer stream = content("text/event-stream", "");
  stream.next_piece = [this, listener]() -> std::optional<std::string> {
    if (closed_) return std::nullopt;
    const std::uint64_t now = desk_.wait_for_change(listener->first ? ~std::uint64_t{0} : listener->seen, 10.0);
    if (closed_) return std::nullopt;
    if (!listener->first && now == listener->seen) return ": still here\n\n";
    listener->first = false;
    listener->seen = now;
    return "event: change\nid: " + std::to_string(now) + "\ndata: " + std::to_string(now) + "\n\n";
  };
  return stream;
}

HttpAnswer BenchSite::take_photo(PhotoIn photo, const HttpRequest& request) {
  if (const std::string name = request.field("fixture"); !name.empty()) {
    photo.fixture = desk_.setup().fixture_called(name);
    if (!photo.fixture)
      return words(400, "there is no fixture \"" + ascii_text(name.substr(0, 100)) + "\" at this bench");
  }
  if (const std::string name = request.field("design"); !name.empty()) {
    photo.design = desk_.setup().design_called(name);
    if (!photo.design)
      return words(400, "there is no design \"" + ascii_text(name.substr(0, 100)) + "\" at this bench");
  }
  const std::int64_t id = desk_.take(photo);
  HttpAnswer made = words(201, "load " + std::to_string(id));
  made.headers.emplace_back("Location", "/loads/" + std::to_string(id));
  return made;
}

PhotoIn BenchSite::photo_of(const HttpRequest& request) {
  if (const HttpPart* photo = request.part("photo"); photo != nullptr && !photo->bytes.empty())
    return {shown_name(photo->file_name), photo->bytes};
  return {};
}

PhotoIn BenchSite::snapped() {
  try {
    return {"snapped.jpg", options_.snap()};
  } catch (const InputError& error) {
    desk_.refuse("the camera's photo", error.what());
    throw;
  }
}

HttpAnswer BenchSite::inspect(std::int64_t load, const HttpRequest& request) {
  PhotoIn photo = photo_of(request);
  if (photo.bytes.empty() && !options_.snap) return words(400, kNoPhoto);
  if (photo.bytes.empty()) photo = snapped();
  desk_.inspect(load, photo);
  HttpAnswer made = words(201, "load " + std::to_string(load) + ", as it was burned");
  made.headers.emplace_back("Location", "/loads/" + std::to_string(load) + "/inspection.html");
  return made;
}

HttpAnswer BenchSite::post(const HttpRequest& request) {
  const std::string& path = request.path;
  if (path == "/photos") {
    PhotoIn photo = photo_of(request);
    if (photo.bytes.empty()) return words(400, kNoPhoto);
    return take_photo(std::move(photo), request);
  }
  if (path == "/snap") {
    if (!options_.snap) return words(404, "no camera was named: start the bench with --snap");
    return take_photo(snapped(), request);
  }
  if (path == "/choice") {
    const DeskState state = desk_.state();
    const std::string fixture = request.field("fixture");
    const std::string design = request.field("design");
    desk_.choose(fixture.empty() ? state.fixture : desk_.setup().fixture_called(fixture).value_or(~std::size_t{0}),
                 design.empty() ? state.design : desk_.setup().design_called(design).value_or(~std::size_t{0}));
    return words(200, "chosen");
  }
  if (path == "/batches") {
    std::vector<std::string> pieces;
    if (const std::string names = request.field("names"); !stripped_line(names).empty()) {
      pieces = read_piece_names(names);
    } else {
      const std::optional<std::int64_t> count = id_of(stripped_line(request.field("pieces")));
      if (!count || *count < 1 || *count > static_cast<std::int64_t>(kMostPieces))
        return words(400, "a batch needs names, or how many pieces it has (1 to 2000)");
      pieces.assign(static_cast<std::size_t>(*count), "");
    }
    const std::string name = stripped_line(shown_name(request.field("name")));
    const std::int64_t id = desk_.begin_batch(name == "photo.jpg" ? "" : name, pieces);
    HttpAnswer made = words(201, "batch " + std::to_string(id));
    made.headers.emplace_back("Location", "/batches/" + std::to_string(id) + "/list");
    return made;
  }
  if (path == "/batches/none") {
    desk_.choose_batch(std::nullopt);
    return words(200, "set aside");
  }
  if (const auto batch = id_and_rest(path, "/batches/"); batch && batch->rest == "current") {
    desk_.choose_batch(batch->id);
    return words(200, "chosen");
  }
  if (const auto load = id_and_rest(path, "/loads/")) {
    if (load->rest == "inspection") return inspect(load->id, request);
    if (load->rest == "burned") {
      desk_.burned(load->id);
      return words(200, "burned");
    }
    if (load->rest == "outcome") {
      desk_.set_outcome(load->id, request.field("slot"), request.field("outcome"));
      return words(200, "noted");
    }
  }
  return missing();
}

}  // namespace jigtrue
