// The linear terms of an edge's model (edge_fit.hpp), tabulated over the places where the edge may lie.
#pragma once
#include "jigtrue/detection/edge_fit.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <vector>

namespace jigtrue {

inline constexpr double kPlaceStepPx = 0.1;  // grid of places; the minimum is refined by a parabola
// about a window's length, so that a slope's coefficient is of the order of a level's
inline constexpr double kSlopeScalePx = 10.0;
inline constexpr int kMostTerms = 6;  // of a limb beside bent light
using TermsRow = std::array<double, kMostTerms>;
// Orthonormal smooth profiles: what one looks like where there is no edge.
using SmoothBasis = Eigen::Matrix<double, Eigen::Dynamic, 3>;

// A step from 0 to 1 at s = 0 under a Gaussian of this sigma.
[[nodiscard]] double blurred_step(double s, double sigma);

// Where the entry of row i and column k <= i of a symmetric or lower triangular matrix lies when only those are kept.
[[nodiscard]] constexpr std::size_t packed(std::size_t i, std::size_t k) { return i * (i + 1) / 2 + k; }

// Rows of terms at distances `kPlaceStepPx` apart, dealt to as many tables as place steps make a profile step: what a
// profile needs with the edge at one place are consecutive rows of one table, most of them shared with other places
// (else a check takes 2 to 13 % longer).
class RowTables {
 public:
  RowTables() = default;
  // For this many rows.
  RowTables(Eigen::Index rows, Eigen::Index stride, Eigen::Index lanes)
      : tables_(static_cast<std::size_t>(stride)), lanes_(lanes) {
    for (std::vector<double>& table : tables_)
      table.reserve(static_cast<std::size_t>((rows + stride - 1) / stride * lanes));
  }

  // Rows come in the order of their distance.
  void push_back(const TermsRow& row) {
    std::vector<double>& table = tables_[count_++ % tables_.size()];
    table.insert(table.end(), row.begin(), row.begin() + lanes_);
  }
  [[nodiscard]] const double* row(Eigen::Index index) const {
    const auto stride = static_cast<Eigen::Index>(tables_.size());
    return tables_[static_cast<std::size_t>(index % stride)].data() + (index / stride) * lanes_;
  }

 private:
  std::vector<std::vector<double>> tables_;
  std::size_t count_ = 0;
  Eigen::Index lanes_ = 0;
};

// Coefficients of some of the terms in a column.
struct TermCoefficients {
  TermsRow coefficients{};
  double along_terms = 0.0;  // their product with the column's products with the terms
};

// What solves for the coefficients of some of the terms.
struct TermSolver {
  std::size_t count = 0;
  std::size_t inside = 0;                       // the first so many belong to the blank, the others lie beside it
  std::array<std::size_t, kMostTerms> picks{};  // which of the rows' terms they are
  // For each place, packed (else a check takes 10 to 14 % longer): the inverse of the Cholesky factor of the luma
  // terms' normal equations, and the chroma terms' products with each other. And the ridge in those normal equations.
  std::vector<double> whiteners;
  std::vector<double> chroma_products;
  std::vector<double> ridges;

  [[nodiscard]] const double* whitener(Eigen::Index place) const {
    return whiteners.data() + static_cast<std::size_t>(place) * packed(count, 0);
  }
  [[nodiscard]] const double* products(Eigen::Index place) const {
    return chroma_products.data() + static_cast<std::size_t>(place) * packed(count, 0);
  }
  [[nodiscard]] double ridge(Eigen::Index place) const { return ridges[static_cast<std::size_t>(place)]; }
  // Of a column of the luma with these products with all terms, the edge at one place. With W^T W the inverse of the
  // normal equations the product along the terms is |W p|^2: squares that are added lose no digits.
  [[nodiscard]] TermCoefficients solve(Eigen::Index place, const TermsRow& products_with_terms) const;
};

struct EdgeTerms {
  Eigen::Index columns = 0;  // of a profile
  Eigen::Index places = 0;
  Eigen::Index stride = 1;  // place steps that make a profile step
  Eigen::Index count = 0;   // terms of a row; those that fill it up to kMostTerms are zero
  RowTables luma_rows;
  RowTables chroma_rows;  // the same terms under the chroma's blur; none without chroma
  TermSolver all;
  std::optional<TermSolver> unshaded;  // without a limb's shading and its bent light beside; none for sharp edges

  // The row of a profile's first value, with the edge at this place; each further value lies `stride` rows on.
  [[nodiscard]] Eigen::Index first_row(Eigen::Index place) const { return places - 1 - place; }
  // `columns` rows of kMostTerms values
  [[nodiscard]] const double* luma(Eigen::Index place) const { return luma_rows.row(first_row(place)); }
  [[nodiscard]] const double* chroma(Eigen::Index place) const { return chroma_rows.row(first_row(place)); }
};

[[nodiscard]] EdgeTerms tabulate_terms(const EdgeModelOptions& options);

// Adds up what each of a profile's values contributes, for every place where the edge may lie: add(index, sign) is told
// which of the rows comes into the sum or leaves it, emit(place) that the sum is that place's. What adding and taking
// off leave of rounding is far below the ridge. With a sum for each
// place a check of nine discs takes 6 % longer, others 1 %.
template <class Clear, class Add, class Emit>
void sum_over_windows(const EdgeTerms& terms, const Clear& clear, const Add& add, const Emit& emit) {
  for (Eigen::Index phase = 0; phase < std::min(terms.stride, terms.places); ++phase) {
    clear();
    for (Eigen::Index j = 0; j < terms.columns - 1; ++j) add(phase + j * terms.stride, 1.0);
    for (Eigen::Index first = phase; first < terms.places; first += terms.stride) {
      add(first + (terms.columns - 1) * terms.stride, 1.0);
      emit(terms.places - 1 - first);
      add(first, -1.0);
    }
  }
}

}  // namespace jigtrue
