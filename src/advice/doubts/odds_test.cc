// From a number and its spread to a probability: worked by hand.
#include "advice/doubts/odds.h"

#include <gtest/gtest.h>

#include <cmath>

#include "advice/doubts/internal/fit.h"

namespace fuelwright::advice::doubts::odds_test {
namespace {

constexpr double kRounding = 1e-9;

TEST(Odds, WhereTheDataSayNothingTheOddsStayAsTheyWere) {
  const About nothing{0, 1e8};
  EXPECT_NEAR(ln_not_zero(nothing, 0.01, 0.3), 0, 1e-8);
  EXPECT_NEAR(ln_above_zero(nothing, 0.01, 0.3), 0, 1e-8);
  EXPECT_NEAR(probability(0, 0.1), 0.1, kRounding);
}

TEST(Odds, AReadingTenSpreadsFromNothingIsWorkedByHand) {
  // u = 0, t = 0.3, v = 0.01^2, m = 0.1: v + t^2 = 0.0901; ln(0.0001/0.0901)/2 = -3.4018;
  // 0.005 (10000 - 11.099) = 49.9445; together 46.5427. z = 10: the half doubles it, + 0.6931.
  EXPECT_NEAR(ln_not_zero({0.1, 1e-4}, 0, 0.3), 46.5427, 1e-3);
  EXPECT_NEAR(ln_above_zero({0.1, 1e-4}, 0, 0.3), 47.2358, 1e-3);
  EXPECT_GT(probability(46.5, 0.01), 0.999);
}

TEST(Odds, WhatIsAsSmallAsUsualIsNoFaultHoweverSharplyItIsSeen) {
  // m = 0.001 seen to 1e-5, usually within 0.01: ln(0.01/0.3) + 0.000001/2 (10000 - 11) = -3.396.
  EXPECT_NEAR(ln_not_zero({0.001, 1e-10}, 0.01, 0.3), -3.396, 1e-3);
  EXPECT_GT(ln_not_zero({0.001, 1e-10}, 0, 0.3), 1000);
}

TEST(Odds, APreciseNothingSpeaksForHealth) {
  // -3.4018, so 1 in 10 becomes 1/(1 + 9 e^3.4018) = 0.0037.
  EXPECT_NEAR(probability(ln_not_zero({0, 1e-4}, 0, 0.3), 0.1), 0.0037, 1e-4);
  // A fault that only makes it larger is not shown by it being smaller.
  EXPECT_LT(ln_above_zero({-0.1, 1e-4}, 0.01, 0.3), ln_above_zero({0, 1e-4}, 0.01, 0.3));
}

TEST(Odds, OfTwoSharpClaimsTheNearerWins) {
  // m = 0.9, v = 0.04: (0.9 - 1)^2 - (0.9 - 0)^2 = -0.80, over 0.08 = -10.
  EXPECT_NEAR(ln_claim({0.9, 0.04}, {0, 0}, {1, 0}), -10, kRounding);
  EXPECT_NEAR(ln_claim({0.1, 0.04}, {0, 0}, {1, 0}), 10, kRounding);
  // With spreads, by hand: m 0.2, v 0.04; 0 +- 0.1 against 1 +- 0.4: v_q 0.05, v_p 0.20;
  // (0.64/0.20 - 0.04/0.05)/2 + ln(0.20/0.05)/2 = 1.2 + 0.6931.
  EXPECT_NEAR(ln_claim({0.2, 0.04}, {0, 0.01}, {1, 0.16}), 1.2 + 0.5 * std::log(4.0), kRounding);
}

TEST(Odds, ThePriorIsTakenOutAgain) {
  // Prior N(0, 1) and data N(2, 0.25): posterior variance 1/(1 + 4) = 0.2, mean 0.2 * 8 = 1.6.
  const About alone = likelihood_of({1.6, 0.2}, {0, 1});
  EXPECT_NEAR(alone.mean, 2, 1e-12);
  EXPECT_NEAR(alone.variance, 0.25, 1e-12);
  EXPECT_GT(likelihood_of({0, 1}, {0, 1}).variance, 1e3);
}

car::NodeShares nowhere() { return {}; }

TEST(Fit, ASlopeIsFoundThroughOddRowsAndItsEvidenceIsTheClosedForm) {
  // y = 0.5 x, every twentieth row off by 1; one column, no table.
  std::vector<FitRow> rows;
  for (int i = 0; i < 400; ++i) {
    FitRow r{.at = nowhere(),
             .y = 0.5 * std::sin(i / 9.0) + (i % 20 == 0 ? 1.0 : 0.0),
             .sd = 0.01,
             .seconds = 0.1};
    r.y += 0.01 * ((i * 7919) % 13 - 6) / 4.0;
    r.column[0] = std::sin(i / 9.0);
    rows.push_back(r);
  }
  const Model model{Eigen::MatrixXd(0, 0), {{0, 1}}, 0.006};
  const Fit fit(model, rows);
  EXPECT_NEAR(fit.mean(0), 0.5, 0.01);
  // Without a table the evidence is of drift and column alone; two equal priors differ by nothing.
  EXPECT_NEAR(fit.ln_evidence(model.table) - fit.ln_evidence(model.table), 0, kRounding);
  EXPECT_GT(fit.ln_evidence(model.table), 10);
}

TEST(Fit, TheEvidenceOfOneNodeIsWorkedByHand) {
  // 100 rows y = 0.02 of one node, sd 0.1: fitted scale s; H = sum w, h = sum w y. For K = k^2:
  // ln Z = h^2/(2 (H + 1/k^2)) - ln(1 + k^2 H)/2. Compared for two k, drift switched off.
  std::vector<FitRow> rows;
  for (int i = 0; i < 100; ++i) {
    FitRow r{.y = 0.02 + 0.1 * (i % 2 ? 1 : -1), .sd = 0.1, .seconds = 10};
    r.at.count = 1;
    r.at.node[0] = 0;
    r.at.share[0] = 1;
    r.run = i;  // no neighbours: nothing repeats
    rows.push_back(r);
  }
  Eigen::MatrixXd wide(1, 1), tight(1, 1);
  wide << 0.04 * 0.04;
  tight << 0.007 * 0.007;
  const Fit fit({wide, {}, 1e-9}, rows);
  // Residuals are +-1 spreads: t^2 = 1 (nearly), Student weight 5/5 = 1, so H = 100/0.01/s^2.
  const double s2 = fit.noise_scale() * fit.noise_scale();
  EXPECT_NEAR(s2, 1, 0.05);
  const double H = 100 / 0.01 / s2, h = 0.02 * H;
  const auto ln_z = [&](double k2) { return h * h / (2 * (H + 1 / k2)) - std::log1p(k2 * H) / 2; };
  EXPECT_NEAR(fit.ln_evidence(wide) - fit.ln_evidence(tight), ln_z(0.0016) - ln_z(0.000049), 0.1);
}

}  // namespace
}  // namespace fuelwright::advice::doubts::odds_test
