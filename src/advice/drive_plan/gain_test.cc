#include "advice/drive_plan/gain.h"

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <numeric>

namespace fuelwright::advice::gain_test {
namespace {

constexpr double kRounding = 1e-12;

Visit at_node(int node, double seconds) {
  car::NodeShares s;
  s.node[0] = node;
  s.share[0] = 1;
  s.count = 1;
  return {s, seconds * second};
}
car::NodeShares between(int a, int b, double share_b) {
  car::NodeShares s;
  s.node = {a, b};
  s.share = {1 - share_b, share_b};
  s.count = 2;
  return s;
}
// Readings of 2 % of which four a second are worth one each, and nothing in common.
constexpr Readings kPlain{
    .sd = 0.02, .rows_per_second = 4, .repetition = 4, .shared_sd = 0, .level_sd = 0};
// Alike over a length of two nodes.
Eigen::MatrixXd smooth(int n, double sd) {
  Eigen::MatrixXd C(n, n);
  for (int i = 0; i < n; ++i) {
    for (int k = 0; k < n; ++k) C(i, k) = sd * sd * std::exp(-std::abs(i - k) / 2.0);
  }
  return C;
}
Knowing knowing(const Eigen::MatrixXd& C, const Readings& r = kPlain, double floor = 0) {
  return {C, Eigen::VectorXd::Constant(C.rows(), floor), r};
}
double variance(const Knowing& k, const Eigen::MatrixXd& use) {
  return (use * k.covariance()).trace();
}

// By hand: one node known to 5 %, 25e-4. Four seconds of one reading of 2 % each: 4e-4/4 = 1e-4.
// 1/(1/25e-4 + 1/1e-4) = 1/(400 + 10000) = 0.9615e-4, 0.98 %; the fall is 24.0385e-4.
TEST(Gain, AHoldOfFourSecondsAtOneNodeByHand) {
  Knowing k = knowing(Eigen::MatrixXd::Constant(1, 1, 25e-4));
  k.look(Eigen::MatrixXd::Ones(1, 1));
  EXPECT_NEAR(k.gain({at_node(0, 4)}), 24.0385e-4, 1e-8);
  k.take({at_node(0, 4)});
  EXPECT_NEAR(k.covariance()(0, 0), 0.961538e-4, 1e-9);
  EXPECT_NEAR(k.sd(at_node(0, 1).shares), 0.0098058, 1e-7);
}

// By hand: what all readings of a step share, 1 %, stays however long it lasts: 25e-4 and 1e-4 give
// 1/(400 + 10000) again.
TEST(Gain, ADriftOfTheSensorIsNotHeldAway) {
  Readings r = kPlain;
  r.shared_sd = 0.01;
  Knowing k = knowing(Eigen::MatrixXd::Constant(1, 1, 25e-4), r);
  k.take({at_node(0, 1e7)});
  EXPECT_NEAR(k.covariance()(0, 0), 0.961538e-4, 1e-8);
}

// Against the textbook's other form, (C^-1 + H)^-1.
TEST(Gain, TheFallOfVarianceIsThatOfTheInformationForm) {
  const Eigen::MatrixXd C = smooth(6, 0.06);
  const Eigen::MatrixXd use =
      Eigen::VectorXd{{0.05, 0.3, 0.3, 0.2, 0.1, 0.05}}.asDiagonal().toDenseMatrix();
  Visit v{between(1, 2, 0.3), 3.0 * second};
  Knowing k = knowing(C);
  k.look(use);
  const double said = k.gain({at_node(4, 2), v});
  Eigen::MatrixXd H = Eigen::MatrixXd::Zero(6, 6);
  H(4, 4) += 2 / 4e-4;
  Eigen::VectorXd phi = Eigen::VectorXd::Zero(6);
  phi[1] = 0.7, phi[2] = 0.3;
  H += 3 / 4e-4 * phi * phi.transpose();
  const Eigen::MatrixXd after = (C.inverse() + H).inverse();
  k.take({at_node(4, 2), v});
  EXPECT_LT((k.covariance() - after).norm(), 1e-12);
  EXPECT_NEAR(said, (use * (C - after)).trace(), kRounding);
}

TEST(Gain, MoreDrivingNeverMakesANodeLessSureAndARepeatBringsLess) {
  Readings r = kPlain;
  r.shared_sd = 0.006;
  Knowing k = knowing(smooth(5, 0.08), r);
  const Eigen::MatrixXd use = Eigen::MatrixXd::Identity(5, 5) / 5;
  double last = 1;
  for (int i = 0; i < 6; ++i) {
    k.look(use);
    const double gain = k.gain({at_node(2, 5)});
    EXPECT_GT(gain, 0);
    EXPECT_LT(gain, last);
    last = gain;
    const Eigen::VectorXd before = k.covariance().diagonal();
    k.take({at_node(2, 5)});
    EXPECT_TRUE((k.covariance().diagonal().array() <= before.array() + kRounding).all());
  }
}

TEST(Gain, LongerHoldsAndQuieterReadingsTeachMore) {
  Knowing k = knowing(smooth(4, 0.08));
  k.look(Eigen::MatrixXd::Identity(4, 4));
  double last = 0;
  for (const double seconds : {1.0, 2.0, 4.0, 8.0, 16.0}) {
    const double gain = k.gain({at_node(1, seconds)});
    EXPECT_GT(gain, last);
    last = gain;
  }
  Visit noisy = at_node(1, 8);
  noisy.moving = 3;
  EXPECT_LT(k.gain({noisy}), k.gain({at_node(1, 8)}));
  EXPECT_EQ(k.gain({}), 0);
}

TEST(Gain, TheFloorAndTheLevelOfTheOnlyInstrumentStay) {
  Readings r = kPlain;
  r.level_sd = 0.03;
  Knowing k = knowing(Eigen::MatrixXd::Constant(1, 1, 25e-4), r, 0.01);
  k.take({at_node(0, 1e6)});
  EXPECT_NEAR(k.sd(at_node(0, 1).shares), std::hypot(0.03, 0.01), 1e-9);
  Knowing sure = knowing(Eigen::MatrixXd::Constant(1, 1, 1e-4), r, 0.01);
  EXPECT_NEAR(sure.sd(at_node(0, 1).shares), std::hypot(0.01, 0.01), 1e-9);  // known better before
}

// Three holds of nine: the fall by taking the best again and again, against all 84 sets of three.
// For a fall that is submodular the greedy set reaches 1 - 1/e of the best (Nemhauser, Wolsey and
// Fisher 1978, from memory); here it comes far closer.
TEST(Gain, TakingTheBestAgainAndAgainComesNearTheBestOfAllSets) {
  const int n = 9;
  const Eigen::MatrixXd C = smooth(n, 0.08);
  Eigen::VectorXd w(n);
  w << 1, 4, 2, 6, 1, 3, 5, 1, 2;
  const Eigen::MatrixXd use = (w / w.sum()).asDiagonal().toDenseMatrix();
  const auto left = [&](const std::vector<int>& set) {
    Knowing k = knowing(C);
    for (const int i : set) k.take({at_node(i, 6)});
    return variance(k, use);
  };
  double best = 1;
  for (int a = 0; a < n; ++a) {
    for (int b = a + 1; b < n; ++b) {
      for (int c = b + 1; c < n; ++c) best = std::min(best, left({a, b, c}));
    }
  }
  std::vector<int> greedy;
  Knowing k = knowing(C);
  for (int i = 0; i < 3; ++i) {
    k.look(use);
    int at = 0;
    for (int c = 1; c < n; ++c) {
      if (k.gain({at_node(c, 6)}) > k.gain({at_node(at, 6)})) at = c;
    }
    greedy.push_back(at);
    k.take({at_node(at, 6)});
  }
  const double start = variance(knowing(C), use);
  const double fall = start - left(greedy), most = start - best;
  EXPECT_GE(fall, (1 - 1 / std::exp(1.0)) * most);
  EXPECT_GE(fall, 0.95 * most);
}

}  // namespace
}  // namespace fuelwright::advice::gain_test
