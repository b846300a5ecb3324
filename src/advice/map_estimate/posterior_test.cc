#include "advice/map_estimate/posterior.h"

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <array>
#include <random>

namespace fuelwright::advice::posterior_test {
namespace {

TEST(Posterior, OneReadingAgainstOneBeliefIsWorkedByHand) {
  // Prior 0 +- 0.10, reading 0.06 +- 0.05: C = 1/(100 + 400) = 0.002; x = 0.002 * 400 * 0.06 =
  // 0.048.
  Eigen::MatrixXd K(1, 1);
  K << 0.01;
  Information info(1);
  const std::array<Entry, 1> row{{{0, 1.0}}};
  info.add(row, 0.06, 1 / (0.05 * 0.05));
  const Posterior p = posterior(K, info);
  EXPECT_NEAR(p.mean[0], 0.048, 1e-12);
  EXPECT_NEAR(p.covariance(0, 0), 0.002, 1e-12);
  EXPECT_NEAR(posterior_mean(K, info)[0], 0.048, 1e-12);
}

TEST(Posterior, NothingDrivenLeavesTheBelief) {
  const Eigen::MatrixXd K = Eigen::MatrixXd::Identity(3, 3) * 0.04;
  const Posterior p = posterior(K, Information(3));
  EXPECT_EQ(p.mean.norm(), 0.0);
  EXPECT_EQ((p.covariance - K).norm(), 0.0);
}

// A random symmetric positive definite belief and random rows over some of its states.
struct Case {
  Eigen::MatrixXd K;
  Information info;
};
Case random_case(int n, int driven, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> g;
  Eigen::MatrixXd B(n, n);
  for (int i = 0; i < n * n; ++i) B.data()[i] = g(random);
  Case c{B * B.transpose() / n + 0.05 * Eigen::MatrixXd::Identity(n, n), Information(n)};
  for (int k = 0; k < 60; ++k) {
    const std::array<Entry, 2> row{
        {{static_cast<int>(random() % driven), 0.3}, {static_cast<int>(random() % driven), 0.7}}};
    c.info.add(row, g(random), 4.0);
  }
  return c;
}

TEST(Posterior, ItEqualsTheTextbookInverse) {
  for (unsigned seed = 1; seed <= 5; ++seed) {
    const Case c = random_case(12, 7, seed);
    const Posterior p = posterior(c.K, c.info);
    const Eigen::MatrixXd C = (c.K.inverse() + c.info.H()).inverse();  // (estimate.3)
    EXPECT_LT((p.covariance - C).norm(), 1e-9 * C.norm());
    EXPECT_LT((p.mean - C * c.info.h()).norm(), 1e-9);
  }
}

TEST(Posterior, MoreDrivingNeverMakesAnyNodeLessSure) {
  Case c = random_case(10, 10, 3);
  const Eigen::VectorXd before = posterior(c.K, c.info).covariance.diagonal();
  const std::array<Entry, 1> row{{{4, 1.0}}};
  c.info.add(row, 0.1, 10.0);
  const Eigen::VectorXd after = posterior(c.K, c.info).covariance.diagonal();
  EXPECT_LE((after - before).maxCoeff(), 1e-12);
  EXPECT_LT(after[4], before[4]);
}

TEST(Posterior, TheOrderOfSamplesDoesNotMatter) {
  Information a(2);
  Information b(2);
  const std::array<Entry, 2> r1{{{0, 0.4}, {1, 0.6}}};
  const std::array<Entry, 1> r2{{{1, 1.0}}};
  a.add(r1, 0.1, 3);
  a.add(r2, -0.2, 5);
  b.add(r2, -0.2, 5);
  b.add(r1, 0.1, 3);
  EXPECT_LT((a.H() - b.H()).norm(), 1e-14);
  EXPECT_LT((a.h() - b.h()).norm(), 1e-14);
}

}  // namespace
}  // namespace fuelwright::advice::posterior_test
