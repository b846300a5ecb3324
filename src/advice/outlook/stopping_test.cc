#include "advice/outlook/stopping.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "advice/outlook/internal/test_car.h"

namespace fuelwright::advice::stopping_test {
namespace {

using ::testing::HasSubstr;

constexpr double kTo95 = 1.959964;

// One node: prior sd 10 %, driven 600 s to 2 % (information 1/0.02^2 - 1/0.1^2), discrepancy 1 %.
MapEstimate one_node(double sd, double floor, double seconds) {
  MapEstimate e{.evidence = {car::TableWhat::ve,
                             {*car::Axis::make(car::AxisKind::engine_speed, {2000}),
                              *car::Axis::make(car::AxisKind::map_absolute, {50e3})},
                             {0.8},
                             {std::hypot(sd, floor)},
                             {seconds},
                             {car::NodeMark::measured}}};
  e.mean = Eigen::VectorXd::Zero(1);
  e.covariance = Eigen::MatrixXd::Constant(1, 1, sd * sd);
  e.prior_sd = Eigen::VectorXd::Constant(1, 0.1);
  e.usage = Eigen::VectorXd::Ones(1);
  e.seconds = seconds;
  return e;
}
const Eigen::MatrixXd kPrior = Eigen::MatrixXd::Constant(1, 1, 0.01);

// Twice the time is twice the information: 1/C = 100 + 2 (2500 - 100) = 4900, sd 1.4286 %.
TEST(Stopping, TwiceTheDrivingIsTwiceTheInformationByHand) {
  const Stopping s = when_to_stop(one_node(0.02, 0.01, 600), kPrior, {});
  EXPECT_NEAR(s.half_width, kTo95 * std::hypot(0.02, 0.01), 1e-9);
  EXPECT_NEAR(s.half_width_later, kTo95 * std::hypot(0.0142857, 0.01), 1e-6);
  EXPECT_NEAR(s.half_width_best, kTo95 * 0.01, 1e-5);
  EXPECT_NEAR(s.half_width_floor, kTo95 * 0.01, 1e-9);
  EXPECT_EQ(s.verdict, Stop::drive_on);
}

TEST(Stopping, TheFloorIsNotDrivenAway) {
  for (const double minutes : {1.0, 10.0, 100.0, 10000.0}) {
    const Stopping s = when_to_stop(one_node(0.02, 0.01, 600), kPrior, {.more = minutes * minute});
    EXPECT_GE(s.half_width_later, s.half_width_floor) << minutes;
    EXPECT_LE(s.half_width_later, s.half_width) << minutes;
  }
}

TEST(Stopping, WhatOneInstrumentGetsWrongEverywhereStays) {
  const Stopping s = when_to_stop(one_node(0.02, 0.01, 600), kPrior, {.shared_sd = 0.018});
  EXPECT_NEAR(s.half_width_best, kTo95 * std::hypot(0.018, 0.01), 1e-9);
}

TEST(Stopping, AtTheFloorMoreDrivingDoesNotHelpAndThatIsSaid) {
  const Stopping s = when_to_stop(one_node(0.002, 0.01, 6000), kPrior, {});
  EXPECT_EQ(s.verdict, Stop::enough);
  EXPECT_THAT(s.sentence(), HasSubstr("Driving more will not help"));
}

TEST(Stopping, WithoutDrivingThereIsNothingToStop) {
  MapEstimate e = one_node(0.1, 0.01, 0);
  e.usage.setZero();
  const Stopping s = when_to_stop(e, kPrior, {});
  EXPECT_EQ(s.verdict, Stop::nothing_driven);
  EXPECT_EQ(s.guesses, 1);
}

// Light load at low speed only, for longer and longer: it gets worth less and less, and the rest of
// the table stays a guess: then the advice is to drive elsewhere.
TEST(Stopping, MoreOfTheSameIsWorthLessAndLessAndThenSendsTheDriverElsewhere) {
  const car::Surface table = car::Surface::flat(test_grid(), 0.8);
  const Eigen::MatrixXd K = covariance(table_as_found_prior(), table.grid);
  const Eigen::VectorXd zero = Eigen::VectorXd::Zero(30);
  double gain_before = 1;
  Stopping last;
  for (const int seconds : {3, 30, 300}) {
    last = when_to_stop(driven(table, row(1, 0, 1), zero, 5, seconds), K, {});
    const double gain = last.half_width - last.half_width_later;
    EXPECT_LT(gain, gain_before) << seconds;
    EXPECT_GE(gain, 0);
    gain_before = gain;
  }
  EXPECT_EQ(last.verdict, Stop::elsewhere);
  EXPECT_THAT(last.sentence(), HasSubstr("only driving elsewhere teaches them"));
}

// The forecast is kept: driven twice as long in truth, the half-widths are those that were said.
TEST(Stopping, TheForecastComesTrue) {
  const car::Surface table = car::Surface::flat(test_grid(), 0.8);
  const Eigen::MatrixXd K = covariance(table_as_found_prior(), table.grid);
  const Eigen::VectorXd zero = Eigen::VectorXd::Zero(30);
  EstimateOptions options;
  options.noise_prior_samples = 1e6;  // the noise is as stated, so that only the time differs
  const MapEstimate now = driven(table, both(row(1), row(2)), zero, 5, 10, options);
  const MapEstimate then = driven(table, both(row(1), row(2)), zero, 5, 20, options);
  const Stopping s = when_to_stop(now, K, {.more = now.seconds * second});
  for (std::size_t i = 0; i < 30; ++i) {
    EXPECT_NEAR(s.later[i], kTo95 * then.evidence.sd_log[i], 0.05 * s.later[i]) << i;
    EXPECT_LE(s.later[i], s.now[i] + 1e-12) << i;
    EXPECT_GE(s.later[i], s.floor[i]) << i;
  }
}

}  // namespace
}  // namespace fuelwright::advice::stopping_test
