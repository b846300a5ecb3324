/// A seeded sample of many unknowns at once: every column is spread evenly over its distribution,
/// and the columns are as good as uncorrelated.
///
///   const Eigen::MatrixXd z = normal_sample(64, 45, seed);     // [member][unknown], standard
///   normal
///
/// Latin hypercube (one point in each of `count` equal strata of every column), then its orders are
/// exchanged until the columns are nearly orthogonal (Owen 1994, from memory). Digital sequences
/// such as Halton's or a lattice need far more than 64 points in 45 unknowns before pairs of
/// columns stop moving together; here the largest correlation is small whatever the number of
/// unknowns below count.
#pragma once

#include <Eigen/Core>
#include <cstdint>

namespace fuelwright::physics {

/// [count][columns] in (0, 1); the same for the same seed on every machine. count >= 1, columns >=
/// 0.
Eigen::MatrixXd uniform_sample(int count, int columns, std::uint64_t seed);
/// The same through the inverse normal distribution.
Eigen::MatrixXd normal_sample(int count, int columns, std::uint64_t seed);
/// Independent standard normals (no strata), for draws.
Eigen::MatrixXd normal_draws(int count, int columns, std::uint64_t seed);

/// x with Phi(x) = p, 0 < p < 1; to 1e-14 relative.                                   (ensemble.2)
/// Source: Acklam's rational start (from memory), one step of Halley on erfc.
double inverse_normal(double p);

}  // namespace fuelwright::physics
