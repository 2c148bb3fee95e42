// Nonlinear least squares by Levenberg-Marquardt (Levenberg 1944; Marquardt 1963; damping after Nielsen,
// IMM-REP-1999-05), for one dense set of parameters or for an arrow: a few shared parameters and many blocks that touch
// only those (a lens and the poses of its photos). The blocks are eliminated by their Schur complement, so forty photos
// cost forty 6 x 6 systems.
//
// The caller supplies
//   linearise(state) -> std::optional<ArrowSystem>   normal equations there; nothing when the state is not allowed
//   move(state, step) -> State                       the state one step away
// and may therefore keep rotations as rotations.
#pragma once
#include "jigtrue/base/products.hpp"

#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include <Eigen/Dense>

namespace jigtrue {

// J^T J and J^T r, summed residual by residual. Cost is the sum of squares (of their robust counterparts).
struct ArrowBlock {
  Eigen::MatrixXd own;       // b x b
  Eigen::MatrixXd cross;     // b x shared
  Eigen::VectorXd gradient;  // b
};
struct ArrowSystem {
  ArrowSystem(Eigen::Index shared_count, std::size_t block_count, Eigen::Index block_size);

  // Adds weight * |r|^2 with r's Jacobians by the shared parameters and by one block's.
  template <class Residual, class ByShared, class ByBlock>
  void add(const Residual& r, const ByShared& by_shared, std::size_t block, const ByBlock& by_block,
           double weight = 1.0) {
    add_shared(r, by_shared, weight);
    ArrowBlock& b = blocks[block];
    add_product(b.own, by_block, by_block, weight);
    add_product(b.cross, by_block, by_shared, weight);
    add_product(b.gradient, by_block, r, weight);
  }
  template <class Residual, class ByShared>
  void add_shared(const Residual& r, const ByShared& by_shared, double weight = 1.0) {
    add_product(shared, by_shared, by_shared, weight);
    add_product(shared_gradient, by_shared, r, weight);
  }

  Eigen::MatrixXd shared;
  Eigen::VectorXd shared_gradient;
  std::vector<ArrowBlock> blocks;
  double cost = 0.0;

 private:
  // to += weight * a^T b. The two rows of one corner are multiplied as they stand: a general product's packing would
  // take longer than the product.
  template <class To, class A, class B>
  static void add_product(To& to, const A& a, const B& b, double weight) {
    if constexpr (A::RowsAtCompileTime != Eigen::Dynamic && A::RowsAtCompileTime <= 4) {
      to.noalias() += (weight * a).eval().transpose().lazyProduct(b);
    } else {
      to += weight * transpose_times(a, b);
    }
  }
};

struct ArrowStep {
  Eigen::VectorXd shared;
  std::vector<Eigen::VectorXd> blocks;
  double predicted_decrease = 0.0;  // of the cost
};
// (A + lambda diag(A)) step = -gradient. Nothing when the system is not positive definite.
[[nodiscard]] std::optional<ArrowStep> solve_damped(const ArrowSystem& system, double lambda);

// The inverse of the whole normal matrix, seen from the shared parameters: multiply by the residuals' variance to get
// their covariance. Nothing when the parameters are not determined (scaled condition above 1e14).
[[nodiscard]] std::optional<Eigen::MatrixXd> inverse_shared(const ArrowSystem& system);
// Inverse of a symmetric positive definite matrix whose rows may have very different units; nothing when it is
// singular.
[[nodiscard]] std::optional<Eigen::MatrixXd> inverse_spd(const Eigen::MatrixXd& matrix);

// Cauchy's loss: c^2 log(1 + s / c^2) for a squared residual s; its weight for reweighted least squares. c = 0: plain.
struct RobustLoss {
  double cost;
  double weight;
};
[[nodiscard]] inline RobustLoss cauchy_loss(double squared, double scale) {
  if (scale <= 0.0) return {squared, 1.0};
  const double c2 = scale * scale;
  return {c2 * std::log1p(squared / c2), 1.0 / (1.0 + squared / c2)};
}

struct LeastSquaresOptions {
  int max_iterations = 100;
  double relative_decrease = 1e-13;  // stop when the cost can be lowered by no more than this share of it
  double smallest_cost = 1e-26;      // stop below this: exact data leave only rounding
  double first_lambda = 1e-4;
};

enum class StopReason {
  converged,  // no step lowers the cost by a share that matters
  iteration_limit,
  stuck,        // every step is refused: the state lies at the edge of what is allowed
  not_allowed,  // the first state was refused, or its cost is not finite
};
[[nodiscard]] const char* to_string(StopReason reason);

struct LeastSquaresSummary {
  StopReason reason = StopReason::not_allowed;
  int iterations = 0;
  double cost = 0.0;
  [[nodiscard]] bool converged() const { return reason == StopReason::converged; }
};

template <class State, class Linearise, class Move>
LeastSquaresSummary minimise(State& state, const Linearise& linearise, const Move& move,
                             const LeastSquaresOptions& options = {}) {
  LeastSquaresSummary summary;
  std::optional<ArrowSystem> system = linearise(state);
  if (!system || !std::isfinite(system->cost)) return summary;
  summary.cost = system->cost;
  double lambda = options.first_lambda;
  double growth = 2.0;
  const double largest_lambda = 1e14;
  for (; summary.iterations < options.max_iterations; ++summary.iterations) {
    if (system->cost <= options.smallest_cost) {
      summary.reason = StopReason::converged;
      return summary;
    }
    const std::optional<ArrowStep> step = solve_damped(*system, lambda);
    bool refused = true;
    if (step) {
      if (step->predicted_decrease <= options.relative_decrease * system->cost && lambda <= 1.0) {
        summary.reason = StopReason::converged;
        return summary;
      }
      State candidate = move(state, *step);
      std::optional<ArrowSystem> there = linearise(candidate);
      if (there && std::isfinite(there->cost) && there->cost < system->cost) {
        const double gain = (system->cost - there->cost) / step->predicted_decrease;
        const double bend = 2.0 * gain - 1.0;
        lambda = std::max(1e-12, lambda * std::max(1.0 / 3.0, 1.0 - bend * bend * bend));
        growth = 2.0;
        state = std::move(candidate);
        system = std::move(there);
        summary.cost = system->cost;
        refused = false;
      }
    }
    if (refused) {
      lambda *= growth;
      growth *= 2.0;
      if (lambda > largest_lambda) {
        // With so short a step, a cost that does not fall is at its lowest to rounding; a prediction that still
        // promises a share of it says that the state is held back by what is allowed.
        const std::optional<ArrowStep> free_step = solve_damped(*system, 1e-9);
        const bool at_bottom = free_step && free_step->predicted_decrease <= 1e-9 * system->cost;
        summary.reason = at_bottom ? StopReason::converged : StopReason::stuck;
        return summary;
      }
    }
  }
  summary.reason = StopReason::iteration_limit;
  return summary;
}

// The dense case: residuals(x, r, jacobian) fills r and d r / d x and returns false where x is not allowed.
template <class Residuals>
LeastSquaresSummary minimise_dense(Eigen::VectorXd& x, const Residuals& residuals,
                                   const LeastSquaresOptions& options = {}) {
  const auto linearise = [&](const Eigen::VectorXd& at) -> std::optional<ArrowSystem> {
    Eigen::VectorXd r;
    Eigen::MatrixXd jacobian;
    if (!residuals(at, r, jacobian)) return std::nullopt;
    ArrowSystem system(at.size(), 0, 0);
    system.add_shared(r, jacobian);
    system.cost = r.squaredNorm();
    return system;
  };
  const auto move = [](const Eigen::VectorXd& at, const ArrowStep& step) -> Eigen::VectorXd {
    return at + step.shared;
  };
  return minimise(x, linearise, move, options);
}

}  // namespace jigtrue
