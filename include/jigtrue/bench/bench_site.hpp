// What the bench answers to a request: its page, its events, photos that come, loads' files, the book. Nothing of a
// request is ever taken for a path of the file system, and nothing here starts a machine.
//
// - GET /: the page. /view: its part that changes. /events: when it has changed (server-sent events).
// - POST /photos: photo, optional fixture and design -> 201, Location: /loads/ID; 422 when it is refused.
// - POST /snap: takes a photo with the command that was given -> the same.
// - GET /loads/ID/: report.html. By name: report.json, offsets.csv, layout.svg, layout.dxf, annotated.jpg, closeup.jpg.
// - POST /loads/ID/burned: the load's ready slots were burned.
// - POST /loads/ID/outcome: slot, outcome (burned, spoiled, again).
// - POST /loads/ID/inspection: photo of the burned load, without one the command's -> 201, Location of inspection.html;
//   inspection.json and inspected.jpg beside it.
// - POST /choice: fixture, design: for photos that name none.
// - POST /batches: name, and pieces (how many) or names (one a line, or CSV with the column text).
// - POST /batches/ID/current, /batches/none: which batch the loads are for.
// - GET /batches/ID/list: the packing list, to print.
// - GET /book.csv, /book.json: everything.
#pragma once
#include "jigtrue/bench/desk.hpp"
#include "jigtrue/bench/http_server.hpp"

#include <atomic>
#include <functional>
#include <string>

namespace jigtrue {

struct SiteOptions {
  std::function<std::string()> snap;  // takes a photo and returns its bytes, or throws InputError; none: no camera
  std::string watched;                // the folder that is watched, for people; empty: none
  bool kept = false;                  // the book outlives the program
  std::string phone;  // the address, with its token, by which others on the network open the page; empty: nobody may
};

class BenchSite {
 public:
  BenchSite(Desk& desk, SiteOptions options);

  [[nodiscard]] HttpAnswer answer(const HttpRequest& request);
  void offer_to_phones(const std::string& address);  // SiteOptions::phone, once it is known; before anybody asks
  void close();                                      // ends the streams of events

 private:
  HttpAnswer get(const HttpRequest& request);
  HttpAnswer post(const HttpRequest& request);
  HttpAnswer events();
  HttpAnswer take_photo(PhotoIn photo, const HttpRequest& request);
  HttpAnswer inspect(std::int64_t load, const HttpRequest& request);
  [[nodiscard]] static PhotoIn photo_of(const HttpRequest& request);  // without bytes: there is none
  PhotoIn snapped();
  HttpAnswer load_file(const std::string& rest) const;

  Desk& desk_;
  SiteOptions options_;
  std::atomic<bool> closed_ = false;
  std::shared_ptr<std::atomic<int>> listeners_ = std::make_shared<std::atomic<int>>(0);
};

// One text for each piece: plain lines, or CSV (RFC 4180) whose first line names the column "text". Throws InputError.
[[nodiscard]] std::vector<std::string> read_piece_names(const std::string& list);

}  // namespace jigtrue
