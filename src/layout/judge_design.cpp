#include "jigtrue/base/text.hpp"
#include "jigtrue/layout/usable_band.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// What a design asks for in one direction, and what it gets.
struct Demand {
  const char* adjective;  // "tall"
  const char* quantity;   // "height"
  std::string holder;     // "the band"
  double size_mm = 0.0;
  double ahead_mm = 0.0;  // room from its centre, either way
  double behind_mm = 0.0;
  double u_mm = 0.0;
  const char* ahead;
  const char* behind;
};

std::string in_mm(double value) { return fixed_text(value, 2) + " mm"; }

// To a tenth, and on the safe side.
std::string at_most(double value) {
  return fixed_text(std::floor(std::max(value, 0.0) * 10.0 + 1e-9) / 10.0, 1) + " mm";
}

// Of a design that is centred where it belongs, the tighter side decides.
double centred(const Demand& d) { return 2.0 * std::min(d.ahead_mm, d.behind_mm); }

std::string remedy(const Demand& d) {
  const double sure = centred(d) - 2.0 * d.u_mm;
  const double move = std::ceil((d.size_mm - sure) / 2.0 * 10.0 - 1e-9) / 10.0;
  const bool ahead = d.ahead_mm > d.behind_mm;
  const bool fits_moved = d.size_mm / 2.0 + move <= std::max(d.ahead_mm, d.behind_mm) - d.u_mm;
  std::string moved = "move it " + fixed_text(move, 1) + " mm " + (ahead ? d.ahead : d.behind);
  const bool fits_smaller = sure >= 0.1;
  if (!fits_smaller && !fits_moved)
    return std::string("no ") + d.quantity + " is sure to fit there: take a larger blank or another place";
  if (!fits_smaller) return moved;
  return std::string("reduce its ") + d.quantity + " to " + at_most(sure) + (fits_moved ? " or " + moved : "");
}

// Empty when it is proved to fit (ISO 14253-1: the uncertainty is taken off what is there).
std::string objection(const Demand& d) {
  const double room = centred(d);
  if (d.size_mm <= room - 2.0 * d.u_mm) return {};
  const bool grey = d.size_mm <= room + 2.0 * d.u_mm;
  const std::string skew =
      std::abs(d.ahead_mm - d.behind_mm) > 0.05
          ? " about its centre (" + in_mm(d.ahead_mm) + " " + d.ahead + ", " + in_mm(d.behind_mm) + " " + d.behind + ")"
          : "";
  return std::string(grey ? "cannot be proved: " : "") + "the design is " + in_mm(d.size_mm) + " " + d.adjective +
         ", " + d.holder + " takes " + in_mm(std::max(room, 0.0)) + skew + " less " + in_mm(2.0 * d.u_mm) +
         " of uncertainty; " + remedy(d);
}

// A disc's room across is what its rim leaves beside the design's ends.
double chord_half(const DesignRoom& room, double half_width_mm) {
  const double squared = *room.disc_radius_mm * *room.disc_radius_mm - half_width_mm * half_width_mm;
  return squared > 0.0 ? std::sqrt(squared) : 0.0;
}

// On a blank that tapers the slimmest place under the design ends the band: there a shorter design has more.
std::string shorter_first(const DesignRoom& room, const DesignBox& design) {
  if (!room.full_height_width_mm || *room.full_height_width_mm >= design.width_mm) return {};
  return "it reaches where the blank is too slim: reduce its length from " + in_mm(design.width_mm) + " to " +
         at_most(*room.full_height_width_mm) + ", or its height: ";
}

std::string judge(const DesignRoom& room, const DesignBox& design) {
  Demand across{"tall",
                "height",
                room.diameter_mm ? "the band" : "the blank",
                design.height_mm,
                room.left_mm,
                room.right_mm,
                room.u_across_mm,
                "to the left of the axis",
                "to the right of the axis"};
  Demand along{"long",           "length",        "the blank",       design.width_mm,    room.forward_mm,
               room.backward_mm, room.u_along_mm, "towards the end", "towards the start"};
  if (room.disc_radius_mm) {
    const double shift = std::abs(room.forward_mm - room.backward_mm) / 2.0;
    across.ahead_mm = across.behind_mm = chord_half(room, design.width_mm / 2.0 + shift);
    across.u_mm = std::hypot(room.u_across_mm, room.u_along_mm);
  }
  // what runs off the blank's end is too long, whatever height it has there
  if (std::string text = objection(along); !text.empty()) return text;
  if (std::string text = objection(across); !text.empty()) return shorter_first(room, design) + text;
  constexpr double kSlack_mm = 0.001;
  if (room.diameter_mm && room.design_width_mm > 0.0 && design.width_mm > room.design_width_mm + kSlack_mm)
    return "cannot be proved: the band was judged for a design " + in_mm(room.design_width_mm) + " wide, this one is " +
           in_mm(design.width_mm) + "; check the photo again with --design";
  return {};
}

}  // namespace

void judge_design(SlotResult& slot) {
  slot.design_note.clear();
  slot.design_fits.reset();
  if (!slot.room || !slot.design) return;
  slot.design_note = judge(*slot.room, *slot.design);
  slot.design_fits = slot.design_note.empty();
}

}  // namespace jigtrue
