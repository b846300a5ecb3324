#include "advice/map_estimate/prior.h"

#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <cmath>

namespace fuelwright::advice::prior_test {
namespace {

car::Grid grid(std::size_t speeds, std::size_t loads) {
  return {car::Axis::even(car::AxisKind::engine_speed, 600, 6500, speeds),
          car::Axis::even(car::AxisKind::map_absolute, 20e3, 105e3, loads)};
}

TEST(Prior, TheSpreadOfATableAsFoundIsTheSumOfItsParts) {
  // sqrt(0.08^2 + 0.015^2 + 0.06^2 + 0.001^2) = 0.10117, by hand
  const Eigen::MatrixXd K = covariance(table_as_found_prior(), grid(8, 8));
  for (Eigen::Index i = 0; i < K.rows(); ++i) EXPECT_NEAR(std::sqrt(K(i, i)), 0.101124, 1e-4);
}

TEST(Prior, NeighboursAreMoreAlikeThanStrangers) {
  const auto g = grid(10, 10);
  const Eigen::MatrixXd K = covariance(table_as_found_prior(), g);
  const auto at = [&](std::size_t ix, std::size_t iy) {
    return static_cast<Eigen::Index>(g.index(ix, iy));
  };
  EXPECT_GT(K(at(3, 3), at(4, 3)), K(at(3, 3), at(9, 3)));
  EXPECT_GT(K(at(3, 3), at(3, 4)), K(at(3, 3), at(3, 9)));
  EXPECT_GT(K(at(3, 3), at(9, 9)), 0.06 * 0.06 * 0.99);  // the level is shared by all
}

TEST(Prior, EveryPriorOnEveryAxisIsAProperBelief) {
  for (const Prior& prior : {unknown_engine_prior(), table_as_found_prior()}) {
    for (const auto kind :
         {car::AxisKind::map_absolute, car::AxisKind::vacuum, car::AxisKind::throttle}) {
      const double top = kind == car::AxisKind::throttle ? 1.0 : 90e3;
      const car::Grid g{car::Axis::even(car::AxisKind::engine_speed, 600, 6500, 12),
                        car::Axis::even(kind, 0.0, top, 12)};
      const Eigen::MatrixXd K = covariance(prior, g);
      EXPECT_LT((K - K.transpose()).norm(), 1e-12);
      const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(K, Eigen::EigenvaluesOnly);
      EXPECT_GT(eigen.eigenvalues().minCoeff(), 0.5e-6);
      EXPECT_TRUE(K.allFinite());
    }
  }
}

TEST(Prior, ResidualGasCostsMoreChargeTheLowerThePressure) {
  const Prior prior = unknown_engine_prior();
  const auto& droop = prior.shapes[6].shape;
  ASSERT_EQ(prior.shapes[6].name, "residual gas at low pressure");
  EXPECT_LT(droop(7.6, 0.30), droop(7.6, 0.50));
  EXPECT_LT(droop(7.6, 0.50), droop(7.6, 1.00));
  // By hand: from 30 to 60 kPa (1/0.3 - 1/0.6) / (1.4 * 9) = 1.6667 / 12.6 = 0.1323
  EXPECT_NEAR(droop(7.6, 0.60) - droop(7.6, 0.30), 0.1323, 1e-4);
}

TEST(Prior, OverlapCostsAnUnknownEngineMostAtIdle) {
  // By hand, at x = 0.4 and 900 rpm (15 rev/s): 1.266/15 * 0.4^-0.87 * sqrt 0.6 = 0.0844 * 2.2191 *
  // 0.7746 = 0.1451; twice ln(1 - 0.1451) = -0.3135. At full pressure nothing is drawn back.
  const car::Grid g{*car::Axis::make(car::AxisKind::engine_speed, {900, 3600}),
                    *car::Axis::make(car::AxisKind::map_absolute, {40e3, 100e3})};
  const Eigen::VectorXd mu = mean(unknown_engine_prior(), g);
  EXPECT_NEAR(mu[0], -0.3135, 5e-4);
  EXPECT_GT(mu[1], 0.25 * mu[0]);
  EXPECT_NEAR(mu[2], 0, 1e-12);
  EXPECT_EQ(mean(table_as_found_prior(), g).norm(), 0);
}

TEST(Prior, AVacuumAxisAndAPressureAxisMeasureTheSameLoad) {
  EXPECT_NEAR(load_coordinate(car::AxisKind::map_absolute, 60e3),
              load_coordinate(car::AxisKind::vacuum, 40e3), 1e-12);
}

}  // namespace
}  // namespace fuelwright::advice::prior_test
