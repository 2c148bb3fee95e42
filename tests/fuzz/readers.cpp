#include "fuzz/readers.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/bench/access.hpp"
#include "jigtrue/bench/bench_site.hpp"
#include "jigtrue/bench/book.hpp"
#include "jigtrue/bench/desk.hpp"
#include "jigtrue/bench/http_server.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/lens_file.hpp"
#include "jigtrue/calibration/map_uncertainty.hpp"
#include "jigtrue/calibration/marks_file.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/fixture/move_slots.hpp"
#include "jigtrue/history/load_record.hpp"
#include "jigtrue/history/settle.hpp"
#include "jigtrue/image/board.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/layout/artwork.hpp"
#include "jigtrue/layout/correct_job.hpp"
#include "jigtrue/layout/job_file.hpp"
#include "jigtrue/layout/layout_dxf.hpp"
#include "jigtrue/layout/layout_svg.hpp"
#include "jigtrue/layout/machine.hpp"
#include "jigtrue/layout/name_list.hpp"
#include "jigtrue/layout/usable_band.hpp"
#include "jigtrue/report/offsets_csv.hpp"
#include "jigtrue/report/placement_files.hpp"
#include "jigtrue/report/read_report.hpp"
#include "jigtrue/report/report_json.hpp"
#include "jigtrue/report/trend_pages.hpp"
#include "support/sample_result.hpp"
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <memory>
#include <optional>
#include <stdexcept>
#include <sys/mman.h>
#include <unistd.h>

#include "image/exif_orientation.hpp"

namespace jigtrue::fuzz {
namespace {

void require(bool holds, const std::string& what) {
  if (!holds) throw std::logic_error(what);
}
bool finite(double value) { return std::isfinite(value); }

// `read` may refuse, in one line. True if it accepted.
template <class Read>
bool take_or_refuse(const Read& read) {
  try {
    read();
    return true;
  } catch (const InputError& error) {
    const std::string said = error.what();
    require(!said.empty() && said.find('\n') == std::string::npos, "a refusal of more than one line: " + said);
    return false;
  }
}

bool take_fixture(const std::string& bytes) {
  return take_or_refuse([&] {
    const Fixture fixture = read_fixture(bytes, "fixture.json");
    require(!fixture.slots.empty(), "a fixture without slots");
    for (const Slot& slot : fixture.slots) {
      require(slot.centre_mm.allFinite() && finite(slot.axis_deg), "a slot's place is not finite");
      if (is_flat(slot.blank.shape)) {
        require(finite(top_face_mm(slot.blank.shape, slot.seat)), "a top face is not finite");
      } else {
        const AxisLine axis = resting_axis(slot.blank.shape, slot.seat);
        require(finite(axis.height_at_start_mm) && finite(axis.tilt_rad), "a resting axis is not finite");
      }
      require(finite(usable_band(2.5, fixture.band).left_mm), "a band is not finite");
    }
    // its slots moved, it is still a fixture
    std::vector<std::optional<SlotMove>> moves(fixture.slots.size());
    moves.front() = SlotMove{{0.25, -0.5}, 0.1, "test"};
    const std::string moved = move_slots(bytes, "fixture.json", moves);
    try {
      require(read_fixture(moved, "moved").slots.size() == fixture.slots.size(), "slots were lost by moving them");
    } catch (const InputError& error) {
      // a place at the end of what is allowed may leave it
      require(std::string(error.what()).find("_mm") != std::string::npos ||
                  std::string(error.what()).find("axis_deg") != std::string::npos,
              std::string("a moved fixture is refused: ") + error.what());
    }
  });
}

bool take_lens(const std::string& bytes) {
  return take_or_refuse([&] {
    const LensRecord record = read_lens_json(bytes, "lens.json");
    require(record.lens.parameters.allFinite() && record.covariance.allFinite(), "a lens is not finite");
    const auto ray = unproject(record.lens, record.lens.principal_px());
    require(!ray || ray->allFinite(), "a sight ray is not finite");
    try {
      for (const LensPhoto& photo : read_lens_inputs(bytes, "lens.json").photos)
        for (std::size_t i = 0; photo.corners.ok() && i < photo.corners->px.size(); ++i)
          require(photo.corners->px[i].allFinite(), "a kept corner is not finite");
    } catch (const InputError&) {
      // a lens can be used without what it was made from
    }
  });
}

bool take_camera(const std::string& bytes) {
  return take_or_refuse([&] {
    const CameraRecord record = read_camera_json(bytes, "camera.json");
    require(record.camera.camera_from_bed.rotation.allFinite(), "a pose is not finite");
    const Vector2d middle(record.camera.lens.width_px / 2.0, record.camera.lens.height_px / 2.0);
    if (const auto point = map_point(record, middle, 10.0)) {
      require(point->bed_mm.allFinite(), "a bed point is not finite");
      require(finite(point->radius_95_mm) && point->radius_95_mm >= 0.0, "a radius is not a length");
    }
    try {
      if (const auto marks = read_mark_inputs(bytes, "camera.json"))
        for (const PlacedMark& mark : marks->marks) require(mark.bed_mm.allFinite(), "a mark is not finite");
      const CameraInputs inputs = read_camera_inputs(bytes, "camera.json");
      (void)fit_pose_to_boards(record.lens, inputs.photos, inputs.placement);
    } catch (const InputError&) {
      // marks gave the pose, or nothing is kept
    }
  });
}

bool take_marks(const std::string& bytes) {
  return take_or_refuse([&] {
    const MarksFile marks = read_marks_json(bytes, "marks.json");
    require(marks.marks_mm.size() >= 4 && finite(marks.field_mm) && finite(marks.sigma_mm), "marks are not usable");
    for (const Vector3d& mark : marks.marks_mm) require(mark.allFinite(), "a mark is not finite");
  });
}

bool take_machine(const std::string& bytes) {
  return take_or_refuse([&] {
    const Machine machine = read_machine(bytes, "machine.json");
    require(machine.bed_mm.minCoeff() > 0.0 && machine.front_left_mm().allFinite(), "a bed is no bed");
  });
}

// An accepted report goes through everything that a report leads to.
bool take_report(const std::string& bytes) {
  return take_or_refuse([&] {
    const CheckResult result = read_report(bytes, "report.json");
    const ReportOptions options{"2024-05-01T12:00:00Z", "0.1.0", std::nullopt};
    (void)offsets_csv(result);
    require(read_report(report_json(result, options), "written.json").slots.size() == result.slots.size(),
            "slots were lost by writing them");
    const Placement placement = place_designs(result, std::nullopt);
    (void)layout_svg(placement, result.fixture_name, std::nullopt);
    (void)layout_dxf(placement);
    (void)placement_csv(result, placement);
    (void)placement_json(result, placement, {}, {}, options);
  });
}

bool take_artwork(const std::string& bytes) {
  return take_or_refuse([&] {
    const Artwork art = read_artwork(bytes, "art.svg");
    require(!art.ink.empty() && art.ink.low.allFinite() && art.ink.high.allFinite(), "ink is not finite");
    require(art.page_mm.allFinite() && art.page_mm.minCoeff() > 0.0, "a page is no page");
    // Within what its shapes reach (clipped strokes reach less far than their lines), to the rounding of 100 m.
    const InkBox reach = ink_of(art.shapes);
    require((art.ink.low.array() > reach.low.array() - 1e-6).all() &&
                (art.ink.high.array() < reach.high.array() + 1e-6).all(),
            "ink beyond the shapes");
    const DesignArt design = common_art(art);
    const Placement placement = place_designs(test::sample_result(), std::nullopt, design);
    (void)layout_svg(placement, "test", std::nullopt);
    (void)layout_dxf(placement);
  });
}

bool take_layout_job(const std::string& bytes) {
  return take_or_refuse([&] {
    const CorrectedJob job = correct_job(bytes, "job.svg", test::sample_result(), std::nullopt);
    require(job.placed.size() + job.left_out.size() == test::sample_result().slots.size(), "slots were lost");
  });
}

bool take_passes(const std::string& bytes) {
  return take_or_refuse([&] {
    const Job job = read_job(bytes, "job.json");
    require(!job.passes.empty() && finite(job.travel_mm_s) && job.travel_mm_s > 0.0, "a job is no job");
  });
}

bool take_names(const std::string& bytes) {
  return take_or_refuse([&] {
    for (const NameRow& row : read_name_list(bytes, "names.csv"))
      require(row.text.empty() != row.artwork_file.empty(), "a row with both a text and a drawing, or neither");
  });
}

bool take_records(const std::string& bytes) {
  return take_or_refuse([&] {
    const CheckRecords records = read_records(bytes);
    for (const LoadRecord& load : records.loads) {
      const CheckRecords again = read_records(record_line(load) + "\n");
      require(again.loads.size() == 1 && again.damaged == 0, "a record's line cannot be read again");
    }
    const std::vector<Trend> trends = trends_of(records);
    for (const Trend& trend : trends) (void)trend_text(trend);
    (void)trend_html(trends);
  });
}

// A file in memory, so that millions of photos cost no disk.
class MemoryFile {
 public:
  MemoryFile() : descriptor_(::memfd_create("photo", MFD_CLOEXEC)) {
    if (descriptor_ < 0) throw std::runtime_error("no file in memory");
  }
  MemoryFile(const MemoryFile&) = delete;
  MemoryFile& operator=(const MemoryFile&) = delete;
  ~MemoryFile() { ::close(descriptor_); }

  std::string holding(const std::string& bytes) const {
    if (::ftruncate(descriptor_, 0) != 0 ||
        ::pwrite(descriptor_, bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size()))
      throw std::runtime_error("a file in memory cannot be written");
    return "/proc/self/fd/" + std::to_string(descriptor_);
  }

 private:
  int descriptor_;
};

// `head`: what tells the kind, so that mutations do not drift to another one.
bool take_photo(const std::string& bytes, const std::string& head) {
  static const MemoryFile file;
  if (bytes.compare(0, head.size(), head) != 0) return false;
  const std::string path = file.holding(bytes);
  // small, so that time goes into headers
  const PhotoLimits limits{300'000, 8};
  std::optional<PhotoSize> said;
  (void)take_or_refuse([&] { said = read_photo_size(path, limits); });
  return take_or_refuse([&] {
    const Photo photo = read_photo(path, PhotoColour::with_chroma, limits);
    require(photo.luma.total() <= 300'000 && photo.width_px() >= 8 && photo.height_px() >= 8, "beyond the limits");
    require(said && said->width_px == photo.width_px() && said->height_px == photo.height_px(),
            "the header's size is not the photo's");
    require(photo.cb.size() == photo.cr.size(), "chroma planes of two sizes");
  });
}
bool take_jpeg(const std::string& bytes) { return take_photo(bytes, "\xFF\xD8\xFF"); }
bool take_png(const std::string& bytes) { return take_photo(bytes, "\x89PNG"); }
bool take_tiff(const std::string& bytes) { return take_photo(bytes, "II") || take_photo(bytes, "MM"); }

bool take_exif(const std::string& bytes) {
  const ExifFacts facts = exif_facts({reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size()});
  require(facts.orientation >= 1 && facts.orientation <= 8, "an orientation that is none");
  for (const std::optional<double>& ratio : {facts.focal_mm, facts.zoom})
    require(!ratio || (finite(*ratio) && *ratio > 0.0), "a ratio that is none");
  return true;
}

bool take_board(const std::string& bytes) {
  return take_or_refuse([&] {
    const BoardSpec board = parse_board_spec(bytes);
    require(board.columns > board.rows && finite(board.square_mm) && board.square_mm > 0.0, "a board is no board");
  });
}

// A bench whose camera has taken no photo yet.
DeskSetup empty_setup() {
  DeskSetup setup{CameraRecord{}, {}};
  setup.fixtures.emplace_back().file = "pens.json";
  setup.software_version = "test";
  setup.now = [] { return std::string("2024-05-01T12:00:00Z"); };
  return setup;
}

struct EmptyBench {
  Book book{std::filesystem::path()};
  Desk desk{empty_setup(), book};
  BenchSite site{desk, {}};
};

// Whole connections, as the bench reads them, and what it does with forms; a photo that could be read is not among
// them.
bool take_request(const std::string& bytes) {
  // begun anew now and then: each batch that a request begins makes the next pages longer
  static std::unique_ptr<EmptyBench> bench;
  static int requests = 0;
  if (requests++ % 200 == 0) bench = std::make_unique<EmptyBench>();
  static const AccessRules rules{{"127.0.0.1:8087"}, "0123456789abcdef", "jigtrue_8087"};
  HttpLimits limits;
  limits.most_body_bytes = 1u << 20;
  static HttpServer server(
      limits, [](const HttpRequest& request) { return refusal(request, rules); },
      [](const HttpRequest& request) {
        // an endless answer would be waited for
        return request.path == "/events" ? HttpAnswer{} : bench->site.answer(request);
      });
  const std::string answer = server.answer_to(bytes);
  require(answer.empty() || answer.starts_with("HTTP/1.1 "), "an answer that is none");
  require(!answer.starts_with("HTTP/1.1 500"), "a fault of the program");
  return answer.starts_with("HTTP/1.1 2");
}

// In memory where the system has a folder there: a book waits for the disk at every change.
std::filesystem::path quick_folder() {
  const std::filesystem::path memory = "/dev/shm";
  return std::filesystem::is_directory(memory) ? memory : std::filesystem::temp_directory_path();
}

bool take_book(const std::string& bytes) {
  static const test::TemporaryFolder folder(quick_folder());
  const std::filesystem::path file = folder / "shop.book";
  std::filesystem::remove(folder / "shop.book-wal");
  std::filesystem::remove(folder / "shop.book-shm");
  std::filesystem::remove(folder / "shop.book-journal");
  std::ofstream(file, std::ios::binary) << bytes;
  (void)take_or_refuse([&] { (void)read_records(book_records(file)); });
  return take_or_refuse([&] {
    Book book(file);
    (void)book.csv();
    (void)book.json();
    if (const std::optional<BookLoad> load = book.last_load()) (void)book.file(load->id, "report.html");
    if (const std::optional<Batch> batch = book.current_batch()) (void)book.waiting(batch->id, 10);
    (void)book.last_standing_loads(8);
    (void)book.seen("d");
    // and it is gone on with
    const std::int64_t id = book.add_load({}, {{"report.json", "{}"}});
    require(book.file(id, "report.json") == "{}", "a load that was written is not there");
    book.burn(id, "2024-05-01T12:00:00Z");
    (void)book.add_inspection(id, {{"inspection.json", "{}"}}, {{"1", "pass"}});
  });
}

}  // namespace

const std::vector<Reader>& readers() {
  static const std::vector<Reader> all = {
      {"fixture", take_fixture}, {"lens", take_lens},     {"camera", take_camera},   {"marks", take_marks},
      {"machine", take_machine}, {"report", take_report}, {"artwork", take_artwork}, {"layout", take_layout_job},
      {"job", take_passes},      {"names", take_names},   {"records", take_records}, {"jpeg", take_jpeg},
      {"png", take_png},         {"tiff", take_tiff},     {"exif", take_exif},       {"board", take_board},
      {"request", take_request}, {"book", take_book},
  };
  return all;
}

}  // namespace jigtrue::fuzz
