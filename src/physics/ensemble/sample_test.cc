#include "physics/ensemble/sample.h"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <set>

namespace fuelwright::physics::sample_test {
namespace {

constexpr int kCount = 64, kColumns = 45;  // as many as a usual ensemble has

TEST(Sample, EveryStratumOfEveryUnknownIsDrawnOnce) {
  const Eigen::MatrixXd u = uniform_sample(kCount, kColumns, 7);
  for (int j = 0; j < kColumns; ++j) {
    std::set<int> strata;
    for (int i = 0; i < kCount; ++i) strata.insert(static_cast<int>(u(i, j) * kCount));
    EXPECT_EQ(strata.size(), static_cast<std::size_t>(kCount));
    EXPECT_EQ(*strata.begin(), 0);
    EXPECT_EQ(*strata.rbegin(), kCount - 1);
  }
}

TEST(Sample, FirstTwoMomentsAreThoseOfANormal) {
  const Eigen::MatrixXd z = normal_sample(kCount, kColumns, 7);
  // The outermost strata scatter most: about 0.4 each, so a column's mean by 0.01 (independent
  // draws: 0.125) and its variance by about 0.05; four times that, and the average over the
  // columns.
  constexpr double kMean = 0.04, kVariance = 0.2, kVarianceOnAverage = 0.03;
  double sum = 0;
  for (int j = 0; j < kColumns; ++j) {
    EXPECT_LT(std::abs(z.col(j).mean()), kMean);
    EXPECT_NEAR(z.col(j).squaredNorm() / kCount, 1, kVariance);
    sum += z.col(j).squaredNorm() / kCount;
  }
  EXPECT_NEAR(sum / kColumns, 1, kVarianceOnAverage);
}

TEST(Sample, UnknownsAreAsGoodAsUncorrelated) {
  const auto correlations = [](Eigen::MatrixXd z) {
    z.rowwise() -= z.colwise().mean();
    for (int j = 0; j < z.cols(); ++j) z.col(j).normalize();
    Eigen::MatrixXd r = z.transpose() * z;
    r.diagonal().setZero();
    return r;
  };
  const Eigen::MatrixXd ours = correlations(normal_sample(kCount, kColumns, 3));
  const Eigen::MatrixXd plain = correlations(normal_draws(kCount, kColumns, 3));
  EXPECT_LT(ours.cwiseAbs().maxCoeff(), 0.12);
  EXPECT_LT(ours.norm(), 0.25 * plain.norm());  // independent draws: 1/sqrt(64) each
}

TEST(Sample, TheSameSeedGivesTheSameEnginesAndAnotherSeedOthers) {
  const Eigen::MatrixXd a = normal_sample(kCount, kColumns, 11);
  EXPECT_EQ(a, normal_sample(kCount, kColumns, 11));
  EXPECT_NE(a, normal_sample(kCount, kColumns, 12));
  // The generator is the standard's mt19937_64, whose 10000th value from its default seed the
  // standard states; nothing else here differs between machines.
  const Eigen::MatrixXd draws = normal_draws(3, 2, 1);
  EXPECT_EQ(draws, normal_draws(3, 2, 1));
}

TEST(Sample, MoreUnknownsThanMembersIsStillASample) {
  const Eigen::MatrixXd u = uniform_sample(8, 40, 1);
  EXPECT_GT(u.minCoeff(), 0);
  EXPECT_LT(u.maxCoeff(), 1);
  EXPECT_EQ(uniform_sample(1, 3, 1).rows(), 1);
  EXPECT_EQ(uniform_sample(5, 0, 1).cols(), 0);
}

TEST(Sample, TheInverseNormalUndoesTheNormal) {
  // 97.5 %: 1.959963984540054, 1e-10: -6.361340902404056 (tables, from memory; the round trip
  // checks them)
  EXPECT_NEAR(inverse_normal(0.975), 1.959963984540054, 1e-12);
  EXPECT_NEAR(inverse_normal(1e-10), -6.361340902404056, 1e-9);
  EXPECT_EQ(inverse_normal(0.5), 0);
  for (double p = 0.001; p < 1; p += 0.0137) {
    EXPECT_NEAR(0.5 * std::erfc(-inverse_normal(p) / std::sqrt(2.0)), p, 1e-14);
  }
}

}  // namespace
}  // namespace fuelwright::physics::sample_test
