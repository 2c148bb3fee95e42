// The stages of a load's check. Each takes the one before and makes a value of its own, which nobody changes
// afterwards: the photo is measured; what is measured is judged by the designs; what is judged is placed as the machine
// must be told; that is written.
#pragma once
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/detection/edge_model_store.hpp"
#include "jigtrue/history/load_record.hpp"
#include "jigtrue/report/report_options.hpp"
#include "jigtrue/workbench/place_camera.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// What the photo says of each slot, and where its camera stood. Numbers are the camera's own.
struct MeasuredLoad {
  CheckResult result;
  Camera camera;
};
// `models`: edge models of former photos, and of this one for the next. `empty`: a photo of the fixture without blanks,
// or null.
[[nodiscard]] MeasuredLoad measure_load(const Photo& photo, const PlacedCamera& placed, const Fixture& fixture,
                                        EdgeModelStore& models, const Photo* empty = nullptr);

// With what the designs have room for, the bands to be drawn, and what reading the drawing left to say.
struct JudgedLoad {
  CheckResult result;
};
[[nodiscard]] JudgedLoad judge_load(const MeasuredLoad& measured, const Fixture& fixture,
                                    const std::optional<Machine>& machine,
                                    const std::vector<std::string>& design_notes);

// A judged load, and what is to be engraved on it.
struct DressedLoad {
  JudgedLoad load;
  DesignArt art;
};

// What is known of the machine's own errors, and whether they are to be applied; what is to be taken off of the beam's
// offset.
struct BeamCorrections {
  std::optional<MachineReading> figures;
  bool apply_figures = false;
  std::optional<BeamOffset> beam = {};
  std::string beam_source = {};
};

// As the machine must be told: corrected by its figures if these are to be applied, else as the camera saw it; designs
// that then leave the machine's bed do not fit. With what is to be engraved drawn on the photo.
struct PlacedLoad {
  CheckResult result;
};
[[nodiscard]] PlacedLoad place_load(const DressedLoad& dressed, const BeamCorrections& corrections,
                                    const std::optional<Machine>& machine);

// The record speaks of where blanks lie, so of no machine's figures.
[[nodiscard]] LoadRecord record_of(const JudgedLoad& judged, const Fixture& fixture, const std::string& time);

// report.json, offsets.csv, layout.svg, annotated.jpg, report.html. The photo moved in, its memory is free again before
// the pictures are drawn.
[[nodiscard]] std::vector<FileContent> files_of(const PlacedLoad& placed, Photo photo, const ReportOptions& options);

}  // namespace jigtrue
