#include "cli/place_proof.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/layout/proof.hpp"
#include "jigtrue/report/check_outputs.hpp"
#include "jigtrue/report/placement_files.hpp"

#include <filesystem>
#include <string>

namespace jigtrue::cli {

int place_proof(const PlaceArguments& arguments, CheckResult result, const ReportOptions& options, const Paths& inputs,
                Streams streams) {
  if (options.machine) judge_on_bed(result, *options.machine);
  const Proof proof = proof_of(result, options.machine, arguments.report);
  const std::filesystem::path folder = arguments.output;
  const std::filesystem::path file = folder / "proof.svg";
  const std::filesystem::path told = folder / "proof.json";
  refuse_over_inputs(inputs, {file, told});
  prepare_folder(folder);
  const std::string& slot_id = proof.design().slot_id;
  ReportOptions drawn = options;
  drawn.art = {};
  drawn.art.own[slot_id] = proof.design().passes;
  write_files({{file, proof_svg(proof)}, {told, placement_json(result, proof.placement, {}, {}, drawn)}});
  if (const std::string page = page_caution(result, options.machine); !page.empty())
    streams.out << "note: " << terminal_text(page) << "\n";
  streams.out << "Leave the load as it was photographed. Lay paper tape over the middle of the blank in slot "
              << terminal_text(slot_id) << ", burn proof.svg lightly, lid shut, and look:\n";
  if (proof.round) streams.out << "  the frame's middle line lies on the blank's crown, all along\n";
  for (const ProofDistance& distance : proof.distances)
    streams.out << "  from the frame to " << distance.to << ": " << fixed_text(distance.mm, 1) << " mm (+/- "
                << fixed_text(distance.u_mm, 1) << ")\n";
  streams.out << "If it lies elsewhere: by the page's size, it was imported by another corner; by a share of its "
                 "distance from the\nmachine's zero, it was scaled; a little, and turned about, the bed was measured "
                 "wrongly: take the pose again from burned\nmarks, or take it off with inspect and --apply-beam.\n"
              << "Or photograph it where it lies, and let jigtrue say what camera and beam disagree by:\n"
              << "  jigtrue inspect PHOTO --camera CAMERA.json --report " << arguments.report << " --placement "
              << told.string() << " -o proof-seen\n"
              << "proof: " << file.string() << "\n";
  return 0;
}

}  // namespace jigtrue::cli
