// A profile against the terms of an edge's model: what they leave of it with the edge at one place or another.
#pragma once
#include <array>
#include <vector>

#include "detection/edge_terms.hpp"

namespace jigtrue {

using Profile = std::array<VectorXd, kChannels>;

// Least squares by two columns, from their products with each other and with what they shall explain; falls back to the
// larger one when they are alike.
struct TwoColumns {
  double aa = 0.0;
  double ab = 0.0;
  double bb = 0.0;
  [[nodiscard]] double misfit(double ay, double by, double whole) const;
};

// What the blank, and what lies beside it, looks like through the chroma's blur.
[[nodiscard]] TwoColumns chroma_columns(const TermSolver& solver, Eigen::Index place, const TermsRow& coefficients);
// Products of those two with a plane of the chroma, from its products with all terms.
struct TwoProducts {
  double blank = 0.0;
  double beside = 0.0;
};
[[nodiscard]] TwoProducts chroma_products(const TermSolver& solver, const TermsRow& coefficients,
                                          const TermsRow& projected);

// Products of a profile with the terms, found when first asked for (several trials ask: else a check
// takes 6 to 15 % longer).
class Projections {
 public:
  struct Place {
    TermsRow luma{};
    std::array<TermsRow, 2> chroma{};
    bool chroma_known = false;
  };

  // Keeps references to both.
  Projections(const EdgeTerms& terms, const Profile& profile, ChannelRange channels);

  [[nodiscard]] const EdgeTerms& terms() const { return terms_; }
  [[nodiscard]] double whole(std::size_t channel) const { return whole_[channel]; }  // sum of squares

  const Place& luma(Eigen::Index place) { return seen(place); }
  const Place& luma_and_chroma(Eigen::Index place);

 private:
  const EdgeTerms& terms_;
  const Profile& profile_;
  std::array<double, kChannels> whole_{};
  std::vector<std::size_t> index_;  // of each place
  std::vector<Place> places_;       // room for all: they stay where they are

  Place& seen(Eigen::Index place);
};

// The misfit of every channel, with the coefficients of some of the terms free.
class Trial {
 public:
  Trial(const TermSolver& solver, Projections& profile, ChannelRange channels);

  [[nodiscard]] const EdgeTerms& terms() const { return profile_.terms(); }
  [[nodiscard]] std::size_t luma_terms() const { return solver_.count; }
  [[nodiscard]] double misfit(Eigen::Index place, int channel) const { return misfit_(place, channel); }
  void look(Eigen::Index place);

 private:
  const TermSolver& solver_;
  Projections& profile_;
  ChannelRange channels_;
  Eigen::Matrix<double, Eigen::Dynamic, kChannels> misfit_;  // negative: not looked at

  void look_at_chroma(Eigen::Index place, const TermsRow& coefficients);
};

}  // namespace jigtrue
