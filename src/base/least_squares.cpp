#include "jigtrue/base/least_squares.hpp"

#include "jigtrue/base/decompositions.hpp"

#include <stdexcept>

namespace jigtrue {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

MatrixXd damped(const MatrixXd& matrix, double lambda) {
  MatrixXd result = matrix;
  // a parameter that nothing depends on would leave a zero on the diagonal: it then simply does not move
  for (Index i = 0; i < result.rows(); ++i) result(i, i) += lambda * matrix(i, i) + (matrix(i, i) == 0.0 ? 1.0 : 0.0);
  return result;
}

double decrease(const MatrixXd& matrix, double lambda, const VectorXd& step, const VectorXd& gradient) {
  return step.dot(lambda * matrix.diagonal().cwiseProduct(step) - gradient);
}

}  // namespace

ArrowSystem::ArrowSystem(Index shared_count, std::size_t block_count, Index block_size)
    : shared(MatrixXd::Zero(shared_count, shared_count)), shared_gradient(VectorXd::Zero(shared_count)) {
  const ArrowBlock empty{MatrixXd::Zero(block_size, block_size), MatrixXd::Zero(block_size, shared_count),
                         VectorXd::Zero(block_size)};
  blocks.assign(block_count, empty);
}

std::optional<ArrowStep> solve_damped(const ArrowSystem& system, double lambda) {
  MatrixXd reduced = damped(system.shared, lambda);
  VectorXd right = -system.shared_gradient;
  std::vector<Eigen::LLT<MatrixXd>> own;
  own.reserve(system.blocks.size());
  for (const ArrowBlock& block : system.blocks) {
    own.emplace_back(damped(block.own, lambda));
    if (own.back().info() != Eigen::Success) return std::nullopt;
    reduced.noalias() -= block.cross.transpose() * own.back().solve(block.cross);
    right.noalias() += block.cross.transpose() * own.back().solve(block.gradient);
  }
  ArrowStep step;
  step.shared = VectorXd::Zero(reduced.rows());
  if (reduced.rows() > 0) {
    const Eigen::LDLT<MatrixXd> solver(reduced);
    if (solver.info() != Eigen::Success || !solver.isPositive()) return std::nullopt;
    step.shared = solver.solve(right);
  }
  step.predicted_decrease = decrease(system.shared, lambda, step.shared, system.shared_gradient);
  for (std::size_t i = 0; i < system.blocks.size(); ++i) {
    const ArrowBlock& block = system.blocks[i];
    step.blocks.push_back(own[i].solve(-block.gradient - block.cross * step.shared));
    step.predicted_decrease += decrease(block.own, lambda, step.blocks.back(), block.gradient);
  }
  if (!std::isfinite(step.predicted_decrease)) return std::nullopt;
  return step;
}

std::optional<MatrixXd> inverse_spd(const MatrixXd& matrix) {
  const VectorXd diagonal = matrix.diagonal();
  if (!matrix.allFinite() || !(diagonal.minCoeff() > 0.0)) return std::nullopt;
  const VectorXd scale = diagonal.cwiseSqrt().cwiseInverse();
  const MatrixXd scaled = scale.asDiagonal() * matrix * scale.asDiagonal();
  const std::optional<SymmetricEigen> eigen = symmetric_eigen(scaled);
  if (!eigen) return std::nullopt;
  const VectorXd& values = eigen->values;
  if (!(values.minCoeff() > 1e-14 * values.maxCoeff())) return std::nullopt;
  const MatrixXd inverse = eigen->vectors * values.cwiseInverse().asDiagonal() * eigen->vectors.transpose();
  return MatrixXd(scale.asDiagonal() * inverse * scale.asDiagonal());
}

std::optional<MatrixXd> inverse_shared(const ArrowSystem& system) {
  MatrixXd reduced = system.shared;
  for (const ArrowBlock& block : system.blocks) {
    if (block.own.isZero(0.0)) continue;  // a block that no residual touches
    const std::optional<MatrixXd> own = inverse_spd(block.own);
    if (!own) return std::nullopt;
    reduced.noalias() -= block.cross.transpose() * *own * block.cross;
  }
  return inverse_spd(0.5 * (reduced + reduced.transpose()));
}

const char* to_string(StopReason reason) {
  switch (reason) {
    case StopReason::converged:
      return "converged";
    case StopReason::iteration_limit:
      return "stopped at the limit of iterations";
    case StopReason::stuck:
      return "stopped at the edge of what is allowed";
    case StopReason::not_allowed:
      return "the start was not allowed";
  }
  throw std::logic_error("unknown stop reason");
}

}  // namespace jigtrue
