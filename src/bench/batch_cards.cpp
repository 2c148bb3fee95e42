#include "bench/batch_cards.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/report/local_time.hpp"

#include "bench/markup_words.hpp"
#include "bench/pages.hpp"

namespace jigtrue::bench {
namespace {

constexpr int kLoadsShown = 8;  // newest first

std::string batch_name(const Batch& batch) {
  return batch.name.empty() ? "batch " + number(batch.id) : markup_text(batch.name);
}

std::string other_batches(const Book& book) {
  std::string out;
  for (const Batch& batch : book.unfinished_batches())
    out += "<li>" + batch_name(batch) + ", " + number(batch.left()) + " left <button id=\"batch-" + number(batch.id) +
           "\" data-post=\"/batches/" + number(batch.id) + "/current\">Go on<span class=\"aloud\"> with " +
           batch_name(batch) + "</span></button></li>\n";
  if (out.empty()) return out;
  return "<details class=\"card\" id=\"other-batches\"><summary>Batches that wait</summary>\n<ul class=\"loads\">\n" +
         out + "</ul></details>\n";
}

// "About 12 min more, as it has gone so far: 3 loads." Nothing when all is done.
std::string time_left(const Batch& batch, const std::optional<BookLoad>& load) {
  if (batch.left() == 0) return {};
  std::optional<double> piece_s = batch.piece_s;
  std::string basis = "as it has gone so far";
  if (!piece_s && load && load->run_s && placed_count(*load) > 0) {
    piece_s = *load->run_s / placed_count(*load);
    basis = "burning alone";
  }
  std::string loads;
  if (load && placed_count(*load) > 0) {
    const std::int64_t each = placed_count(*load);
    const std::int64_t count = (batch.left() + each - 1) / each;
    loads = number(count) + (count == 1 ? " load" : " loads") + " of up to " + number(each);
  }
  if (!piece_s)
    return loads.empty() ? "How long it will take shows once loads were burned."
                         : loads + "; how long that takes shows once loads were burned.";
  return "About " + duration_words(*piece_s * static_cast<double>(batch.left())) + " more, " + basis +
         (loads.empty() ? "" : ": " + loads) + ".";
}

}  // namespace

std::string batch_card(const Book& book, const std::optional<BookLoad>& load) {
  const std::optional<Batch> batch = book.current_batch();
  if (!batch) return other_batches(book);
  std::string out = "<section class=\"card\" aria-labelledby=\"batch\"><h2 id=\"batch\">Batch" +
                    (batch->name.empty() ? std::string() : ": " + markup_text(batch->name)) +
                    "</h2>\n<p class=\"big\">" + left_words(*batch) + "</p>\n<progress max=\"" + number(batch->pieces) +
                    "\" value=\"" + number(batch->done) + "\" aria-label=\"Pieces done\"></progress>\n";
  if (const std::string time = time_left(*batch, load); !time.empty()) out += "<p>" + time + "</p>\n";
  if (batch->spoiled > 0) out += "<p>Spoiled so far: " + number(batch->spoiled) + ".</p>\n";
  std::string next;
  for (const Piece& piece : book.waiting(batch->id, 6))
    if (!piece.text.empty()) next += (next.empty() ? "" : ", ") + markup_text(piece.text);
  if (!next.empty()) out += "<p class=\"quiet\">Next: " + next + (batch->left() > 6 ? " &hellip;" : "") + "</p>\n";
  return out + "<p><a href=\"/batches/" + number(batch->id) + "/list\">Packing list</a></p>" +
         (batch->left() > 0
              ? "<div class=\"acts\"><button id=\"aside\" data-post=\"/batches/none\">Set aside</button></div>"
              : "") +
         "</section>\n" + other_batches(book);
}

std::string last_loads(const Book& book) {
  std::string out;
  for (const BookLoad& load : book.last_standing_loads(kLoadsShown))
    out += "<li><a href=\"/loads/" + number(load.id) + "/\">Load " + number(load.id) + "</a> <span>" +
           markup_text(load.headline) + "</span> <span class=\"quiet\">" + markup_text(local_time(load.time)) +
           (load.burned.empty() ? ", not burned" : ", burned") + "</span></li>\n";
  if (out.empty()) return out;
  return "<section class=\"card\" aria-labelledby=\"loads\"><h2 id=\"loads\">Last loads</h2>\n<ul class=\"loads\">\n" +
         out +
         "</ul>\n<p class=\"quiet\">The whole book: <a href=\"/book.csv\" download>CSV</a>, <a href=\"/book.json\" "
         "download>JSON</a></p></section>\n";
}

std::string packing_list(const Book& book, const Batch& batch) {
  std::string rows;
  for (const Piece& piece : book.pieces(batch.id))
    rows += "<tr><td>" + number(piece.number) + "</td><td>" + markup_text(piece.text) + "</td><td>" +
            (piece.done ? "done, load " + number(piece.load.value_or(0)) + ", slot " + markup_text(piece.slot)
                        : std::string("to do")) +
            "</td><td class=\"box\"></td></tr>\n";
  return head_of("Packing list") + "</head>\n<body class=\"list\">\n<main>\n<h1>Packing list" +
         (batch.name.empty() ? std::string() : ": " + markup_text(batch.name)) + "</h1>\n<p>" + number(batch.done) +
         " of " + number(batch.pieces) + " done, " + number(batch.spoiled) + " spoiled on the way. Begun " +
         markup_text(local_time(batch.time)) +
         ".</p>\n<table>\n<thead><tr><th>Piece</th><th>Name</th><th>Engraved</th><th>Packed</th></tr></"
         "thead>\n<tbody>\n" +
         rows + "</tbody></table>\n</main>\n</body>\n</html>\n";
}

}  // namespace jigtrue::bench
