// What `jigtrue place` is told.
#pragma once
#include <optional>
#include <string>
#include <vector>

namespace jigtrue::cli {

struct PlaceArguments {
  std::string report;
  std::string design;
  std::vector<std::string> passes;
  std::string job;
  std::string layout;
  std::string names;
  std::string font;
  std::optional<double> text_height_mm;
  std::string machine;
  bool wrap = false;
  bool strict = false;
  bool proof = false;
  bool apply_machine = false;
  std::vector<std::string> apply_beam;
  std::string output;
};

}  // namespace jigtrue::cli
