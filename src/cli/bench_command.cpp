#include "cli/beam_option.hpp"
#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/machine_option.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/bench/access.hpp"
#include "jigtrue/bench/bench_site.hpp"
#include "jigtrue/bench/book.hpp"
#include "jigtrue/bench/desk.hpp"
#include "jigtrue/bench/http_server.hpp"
#include "jigtrue/bench/own_addresses.hpp"
#include "jigtrue/bench/photo_sources.hpp"
#include "jigtrue/layout/job_file.hpp"

#include <csignal>
#include <filesystem>
#include <memory>
#include <optional>
#include <thread>

#ifdef __GLIBC__
#include <malloc.h>
#endif

namespace jigtrue::cli {
namespace {

struct BenchArguments {
  std::string camera;
  std::vector<std::string> fixtures;
  std::vector<std::string> designs;
  std::vector<std::string> jobs;
  std::string machine;
  std::string font;
  std::optional<double> text_height_mm;
  std::string listen = "127.0.0.1:8087";
  std::string watch;
  std::string snap;
  std::string book;
  bool repose = false;
  bool apply_machine = false;
  std::vector<std::string> apply_beam;
};

constexpr const char* kBenchHelp =
    "A page beside the machine: photo after photo is checked at once, and a book keeps the batch.\n"
    "\n"
    "Open the address that it prints. Photos are sent from the page (a phone's camera, too), appear in the folder of "
    "--watch, or are\n"
    "taken by the command of --snap, which writes a JPEG to the path that it is given as its last argument, or where "
    "it "
    "has {}:\n"
    "  a USB camera       --snap 'ffmpeg -loglevel error -y -f v4l2 -video_size 3840x2160 -i /dev/video0 -frames:v 1'\n"
    "  a network camera   --snap 'curl -sSf http://192.168.1.30/still.jpg -o'\n"
    "  a tethered camera  --snap 'gphoto2 --capture-image-and-download --force-overwrite --filename'\n"
    "It listens on 127.0.0.1 alone. With --listen ADDRESS:PORT others on the network may use it: they need the token "
    "that is printed,\n"
    "as an address and as a code for the phone. What is sent is not encrypted: use a network that you trust.\n"
    "After the burn, before anything is taken out, one more photo from the page shows where each mark sits; a bare "
    "blank "
    "waits for another\n"
    "pass, or gives its piece back to the batch once the jig is loaded anew.\n"
    "It starts no machine. Ctrl-C ends it; with --book nothing is lost.\n"
    "\n"
    "Example: jigtrue bench --camera camera.json --fixture fixture.json --design name.svg --book shop.book";

FixtureOffer read_fixture_offer(const std::string& file, const std::string& machine_option) {
  FixtureOffer offer;
  offer.file = file;
  offer.fixture = read_fixture(read_text_file(file), file);
  offer.machine = machine_of(machine_file(machine_option, offer.fixture, file));
  if (!offer.fixture.empty_photo.empty()) offer.empty = read_photo(offer.fixture.empty_photo);
  return offer;
}

DesignOffer read_drawing_offer(const std::string& file) {
  const Artwork artwork = read_artwork(read_svg_file(file), file);
  DesignOffer offer;
  offer.file = file;
  offer.passes = *common_art(artwork).common;
  offer.size_mm = artwork.ink.size();
  offer.notes = artwork.notes;
  return offer;
}

DesignOffer read_job_offer(const std::string& file) {
  const Job job = read_job(read_text_file(file), file);
  DesignOffer offer;
  offer.file = file;
  offer.travel_mm_s = job.travel_mm_s;
  std::vector<JobPass> drawn;
  std::vector<Artwork> artworks;
  for (const JobPass& pass : job.passes) {
    if (pass.name == "names" && pass.timing) offer.names_timing = pass.timing;
    if (pass.artwork_file.empty()) continue;
    const std::filesystem::path drawing = std::filesystem::path(file).parent_path() / pass.artwork_file;
    artworks.push_back(read_artwork(read_svg_file(drawing), drawing.string()));
    offer.notes.insert(offer.notes.end(), artworks.back().notes.begin(), artworks.back().notes.end());
    drawn.push_back(pass);
  }
  if (drawn.empty()) return offer;
  offer.passes = passes_in_register(drawn, artworks);
  const InkBox ink = ink_of(offer.passes);
  offer.size_mm = 2.0 * ink.low.cwiseAbs().cwiseMax(ink.high.cwiseAbs());
  return offer;
}

DeskSetup read_desk_setup(const BenchArguments& arguments) {
  DeskSetup setup{read_camera_json(read_text_file(arguments.camera), arguments.camera), {}};
  for (const std::string& file : arguments.fixtures)
    setup.fixtures.push_back(read_fixture_offer(file, arguments.machine));
  for (const std::string& file : arguments.designs) setup.designs.push_back(read_drawing_offer(file));
  for (const std::string& file : arguments.jobs) setup.designs.push_back(read_job_offer(file));
  if (!arguments.font.empty())
    setup.font = std::make_shared<const OutlineFont>(read_text_file(arguments.font), arguments.font);
  setup.text_height_mm = arguments.text_height_mm;
  setup.repose = arguments.repose;
  setup.apply_figures = arguments.apply_machine;
  setup.beam = beam_of(arguments.apply_beam);
  setup.beam_source = beam_source(arguments.apply_beam);
  setup.software_version = version();
  setup.now = time_now;
  return setup;
}

void guard_book(const BenchArguments& arguments) {
  Paths inputs = paths_of({arguments.camera, arguments.machine, arguments.font});
  for (const std::vector<std::string>* more :
       {&arguments.fixtures, &arguments.designs, &arguments.jobs, &arguments.apply_beam})
    for (const std::string& file : *more) inputs.emplace_back(file);
  refuse_over_inputs(inputs, paths_of({arguments.book}));
}

// From here on these signals are waited for, not suffered: every thread that is begun later holds them back, too.
sigset_t hold_signals() {
  sigset_t ending;
  sigemptyset(&ending);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) sigaddset(&ending, signal);
  pthread_sigmask(SIG_BLOCK, &ending, nullptr);
  return ending;
}

// Checks run in whichever thread a photo came by; each would keep a heap of its own, large enough for the largest
// photo.
void share_one_heap() {
#ifdef __GLIBC__
  mallopt(M_ARENA_MAX, 2);
#endif
}

void announce(const ListenAddress& listen, const std::string& token, Streams streams) {
  const std::string page = page_address(listen) + (token.empty() ? "" : "?token=" + token);
  streams.out << "bench: " << page << "\n";
  if (!token.empty())
    streams.out << "Others on this network need this address with its token, which is new with every start:\n"
                << qr_text(page) << "What is sent is not encrypted: use a network that you trust.\n";
  streams.out
      << "Machine disarmed and beam off while you load. The maker's manual, local codes and licensed practice come "
         "first.\nCtrl-C ends the bench.\n";
  streams.out.flush();
}

std::unique_ptr<FolderWatch> watch(const std::string& folder, Desk& desk, Streams streams) {
  if (folder.empty()) return nullptr;
  FolderWatch::Callbacks callbacks;
  callbacks.whole = looks_whole;
  callbacks.photo = [&desk, streams](const std::string& name, std::string bytes) {
    try {
      (void)desk.take({name, std::move(bytes)});
    } catch (const std::exception& error) {
      streams.err << "jigtrue: " << terminal_text(error.what()) << "\n";
    }
  };
  callbacks.trouble = [&desk](const std::string& name, const std::string& text) { desk.refuse(name, text); };
  return std::make_unique<FolderWatch>(folder, std::move(callbacks));
}

int run_bench(const BenchArguments& arguments, Streams streams) {
  share_one_heap();
  ListenAddress listen = read_listen_address(arguments.listen);
  guard_book(arguments);
  DeskSetup setup = read_desk_setup(arguments);
  const sigset_t ending = hold_signals();
  Book book(arguments.book);
  Desk desk(std::move(setup), book);
  SiteOptions options;
  if (!arguments.snap.empty()) options.snap = [&] { return snap_photo(arguments.snap); };
  options.watched = arguments.watch;
  options.kept = !arguments.book.empty();
  BenchSite site(desk, std::move(options));
  AccessRules rules;
  HttpServer server(
      {}, [&rules](const HttpRequest& request) { return refusal(request, rules); },
      [&site](const HttpRequest& request) { return site.answer(request); });
  listen.port = server.bind(listen.address, listen.port);
  rules.hosts = host_names(listen);
  rules.cookie = "jigtrue_" + std::to_string(listen.port);
  if (!listen.is_loopback()) rules.token = new_token();
  if (!rules.token.empty()) site.offer_to_phones(page_address(listen) + "?token=" + rules.token);
  book.kept_at(page_address(listen));
  const std::unique_ptr<FolderWatch> watching = watch(arguments.watch, desk, streams);
  announce(listen, rules.token, streams);
  std::thread serving([&server] { server.run(); });
  int signal = 0;
  sigwait(&ending, &signal);
  site.close();
  server.stop();
  serving.join();
  streams.out << "The bench has ended.\n";
  return 0;
}

}  // namespace

void add_bench_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<BenchArguments>();
  CLI::App* command = program.add_subcommand("bench", "A page beside the machine, and a book of the batch");
  command->description(kBenchHelp);
  command->add_option("--camera", arguments->camera, "camera.json from jigtrue pose")->required();
  command->add_option("--fixture", arguments->fixtures, "fixture.json; several may be given, the page chooses")
      ->required();
  command->add_option("--design", arguments->designs, "A drawing (SVG) to be engraved; several may be given");
  command->add_option("--job", arguments->jobs, "job.json: passes with drawings and speeds; several may be given");
  command->add_option("--machine", arguments->machine,
                      "machine.json: the bed's size and the corner of its origin; a fixture file may name it");
  command->add_option("--font", arguments->font, "Font file (.ttf, .otf) in which the names of a batch are set");
  command
      ->add_option("--text-height", arguments->text_height_mm,
                   "Height of the names in mm; without it as tall as fits with the batch's longest name")
      ->check(CLI::Range(0.1, 500.0));
  command->add_option("--listen", arguments->listen, "ADDRESS:PORT to listen on; 0.0.0.0:8087 is every network")
      ->capture_default_str();
  command->add_option("--watch", arguments->watch, "Folder in which photos appear");
  command->add_option("--snap", arguments->snap,
                      "Command that takes a photo and writes it to the path that it is given");
  command->add_option("--book", arguments->book, "File that keeps batches, loads and what came of them (SQLite)");
  command->add_flag("--repose", arguments->repose,
                    "When the camera has moved: place it anew by the bed's witness marks instead of refusing");
  command->add_flag("--apply-machine", arguments->apply_machine,
                    "Correct places and angles by the machine's scale and squareness, as pose --marks measured them");
  add_beam_option(*command, arguments->apply_beam);
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_bench(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
