#include "physics/ensemble/ensemble.h"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>

#include "physics/ensemble/internal/fill.h"
#include "physics/ensemble/internal/test_engine.h"

namespace fuelwright::physics::ensemble_test {
namespace {

// The linear engine in full: 12 parts, covariance J'J.
struct Linear {
  MapPlaces places = test_places();
  Eigen::MatrixXd J = test_sensitivities(places, 12);
  Ensemble ensemble(int members = 64,
                    const EnsembleSettings& settings = without_discrepancy()) const {
    return Ensemble(test_drawn(J, places, members, 5), settings);
  }
};

TEST(Ensemble, MeanAndSpreadAreThoseOfTheEnginesDrawn) {
  const Linear engine;
  const Ensemble e = engine.ensemble();
  const Eigen::VectorXd variance = engine.J.colwise().squaredNorm();
  for (Eigen::Index i = 0; i < e.nodes(); ++i) {
    EXPECT_NEAR(e.mean()[i], test_level(engine.places, i),
                0.002);  // the sample's means are nearly 0
    EXPECT_NEAR(e.sd_log(i), std::sqrt(variance[i]), 0.12 * std::sqrt(variance[i]));
    EXPECT_TRUE(e.known(i));
    EXPECT_EQ(e.reachable_share(i), 1);
    EXPECT_DOUBLE_EQ(e.ve(i), std::exp(e.mean()[i]));
  }
}

TEST(Ensemble, ComponentsReproduceTheCovarianceOfTheMembers) {
  const Ensemble e = Linear{}.ensemble();
  EXPECT_GE(e.components_hold(), 0.995);
  EXPECT_LE(e.components().cols(), 12);
  const Eigen::MatrixXd exact =
      e.deviations().transpose() * e.deviations() / static_cast<double>(e.members() - 1);
  const Eigen::MatrixXd ours = e.covariance_of_members();
  // What is left out goes on the diagonal, so variances are exact and the rest is within the share
  // left.
  EXPECT_LT((ours - exact).diagonal().cwiseAbs().maxCoeff(), 1e-12);
  EXPECT_LT((ours - exact).norm(), 0.01 * exact.norm());
}

TEST(Ensemble, ManyMembersGiveTheCovarianceOfTheParts) {
  const Linear engine;
  const Ensemble e = engine.ensemble(512);
  const Eigen::MatrixXd exact = engine.J.transpose() * engine.J;
  EXPECT_LT((e.covariance_of_members() - exact).norm(), 0.06 * exact.norm());
}

TEST(Ensemble, NineteenOfTwentyEnginesNotDrawnBeforeLieWithinTheInterval) {
  const Linear engine;
  const Ensemble e = engine.ensemble();
  const Eigen::MatrixXd others = normal_draws(400, 12, 99) * engine.J;
  int inside = 0;
  for (Eigen::Index m = 0; m < others.rows(); ++m) {
    for (Eigen::Index i = 0; i < e.nodes(); ++i)
      inside +=
          std::abs(test_level(engine.places, i) + others(m, i) - e.mean()[i]) < k95 * e.sd_log(i)
              ? 1
              : 0;
  }
  const double share = inside / static_cast<double>(others.size());
  EXPECT_GT(share, 0.93);
  EXPECT_LT(share, 0.97);
}

TEST(Ensemble, TheDiscrepancyWidensFullThrottleMostAndLightLoadLittle) {
  const Linear engine;
  const Ensemble with = engine.ensemble(64, {});
  const Ensemble without = engine.ensemble();
  const auto added = [&](Eigen::Index i) {
    return std::sqrt(with.covariance()(i, i) - without.covariance()(i, i));
  };
  const Eigen::Index top = with.nodes() - 1;
  EXPECT_NEAR(added(top), std::sqrt(.05 * .05 + .06 * .06 + .015 * .015), 1e-9);  // by hand: 0.0795
  EXPECT_NEAR(added(0), .015, 1e-9);
  // 714 rpm apart at full throttle: Matern 5/2 at 1.02 lengths is 0.515 (by hand).
  const double a = std::sqrt(5.0) * (5000.0 / 7) / 700;
  const double shape = (1 + a + a * a / 3) * std::exp(-a);
  EXPECT_NEAR(internal::discrepancy_covariance({.smooth = 0}, engine.places)(top, top - 1),
              .05 * .05 + .06 * .06 * shape, 1e-12);
  EXPECT_EQ(Eigen::LLT<Eigen::MatrixXd>(with.covariance()).info(), Eigen::Success);
}

TEST(Ensemble, TheStructureTermMovesTheMeanAndPartOfItStaysInDoubt) {
  const Linear engine;
  EnsembleSettings settings = without_discrepancy();
  settings.structure.assign(40, 0.0);
  settings.structure[39] = -0.10;
  const Ensemble with = engine.ensemble(64, settings);
  const Ensemble without = engine.ensemble();
  EXPECT_NEAR(with.mean()[39] - without.mean()[39], -0.10, 1e-12);
  EXPECT_NEAR(with.mean()[38], without.mean()[38], 1e-12);
  EXPECT_NEAR(with.covariance()(39, 39) - without.covariance()(39, 39), 0.03 * 0.03, 1e-12);
}

Drawn with_misfires(const Linear& engine, int members_that_misfire, Eigen::Index node) {
  Drawn drawn = test_drawn(engine.J, engine.places, 64, 5);
  for (int m = 0; m < members_that_misfire; ++m) {
    AirNode& at = drawn.members[static_cast<std::size_t>(m)].nodes[static_cast<std::size_t>(node)];
    at.reachable = false;
    at.ve = -0.2;  // whatever stands there must not be taken
  }
  return drawn;
}

TEST(Ensemble, ANodeWhereAFifthOfTheEnginesMisfireIsUnknown) {
  const Linear engine;
  const Ensemble e(with_misfires(engine, 13, 0), without_discrepancy());  // 20.3 %
  EXPECT_FALSE(e.known(0));
  EXPECT_NEAR(e.reachable_share(0), 51.0 / 64, 1e-12);
  EXPECT_GT(e.sd_log(0), 0.3);
  EXPECT_TRUE(e.known(1));
  EXPECT_NEAR(e.mean()[0], test_level(engine.places, 0), 0.02);  // a guess from those that run
  EXPECT_EQ(Eigen::LLT<Eigen::MatrixXd>(e.covariance()).info(), Eigen::Success);
}

TEST(Ensemble, AFewMisfiresAreFilledFromTheMembersOtherNodes) {
  const Linear engine;
  const Ensemble whole(test_drawn(engine.J, engine.places, 64, 5), without_discrepancy());
  const Ensemble holes(with_misfires(engine, 12, 0), without_discrepancy());
  EXPECT_TRUE(holes.known(0));
  // Twelve parts are seen by 39 other nodes, so what is missing is known to a part of its spread.
  const Eigen::VectorXd error = (holes.deviations() - whole.deviations()).col(0).head(12);
  EXPECT_LT(error.norm(), 0.35 * whole.deviations().col(0).head(12).norm());
  EXPECT_NEAR(holes.sd_log(0), whole.sd_log(0), 0.1 * whole.sd_log(0));
  EXPECT_EQ(Eigen::LLT<Eigen::MatrixXd>(holes.covariance()).info(), Eigen::Success);
}

TEST(Ensemble, ANodeThatNobodyReachesGetsAGuessAndNoFalseCertainty) {
  const Linear engine;
  const Ensemble e(with_misfires(engine, 64, 3), {});
  EXPECT_FALSE(e.known(3));
  EXPECT_EQ(e.reachable_share(3), 0);
  EXPECT_DOUBLE_EQ(e.mean()[3], e.mean()[3 + 8]);  // the next pressure at that speed
  EXPECT_TRUE(e.covariance().allFinite());
}

TEST(Ensemble, DrawsScatterAsTheCovarianceSays) {
  const Ensemble e = Linear{}.ensemble(64, {});
  const Eigen::MatrixXd draws = e.draws(4000, 3);
  const Eigen::MatrixXd off = draws.rowwise() - e.mean().transpose();
  const Eigen::MatrixXd S = off.transpose() * off / 4000;
  EXPECT_LT((S - e.covariance()).norm(), 0.06 * e.covariance().norm());
  EXPECT_EQ(draws, e.draws(4000, 3));
}

TEST(Ensemble, HonestMembersScatterByMembersAndDiscrepancyTogether) {
  const Ensemble e = Linear{}.ensemble(512, {});
  const Eigen::Index top = e.nodes() - 1;
  const std::vector<AirMap> maps = e.honest_members(4);
  std::vector<double> ve, mass_share;
  for (const AirMap& map : maps) {
    const AirNode& node = map.nodes[static_cast<std::size_t>(top)];
    ve.push_back(std::log(node.ve));
    EXPECT_NEAR(node.trapped_air.in(mg), 500 * node.ve, 1e-6);  // moves with VE
    EXPECT_GT(node.trapped, node.trapped_air);
  }
  const Interval i = interval_of(ve);
  EXPECT_NEAR((i.high - i.low) / 2, k95 * e.sd_log(top), 0.12 * k95 * e.sd_log(top));
  EXPECT_NEAR(i.middle, e.mean()[top], 0.01);
}

TEST(Ensemble, OtherAxesAreReachedByBilinearWeights) {
  const Ensemble e = Linear{}.ensemble();
  const car::Grid grid{*car::Axis::make(car::AxisKind::engine_speed, {500, 1000, 1357, 9000}),
                       *car::Axis::make(car::AxisKind::map_absolute, {20e3, 38.75e3, 100e3})};
  const auto W = weights_onto(e, grid);
  ASSERT_TRUE(W.ok());
  EXPECT_LT((W->rowwise().sum().array() - 1).abs().maxCoeff(), 1e-12);
  EXPECT_DOUBLE_EQ((*W)(0, 0), 1);  // outside: the corner holds
  EXPECT_DOUBLE_EQ((*W)(11, 39), 1);
  // 38.75 kPa is half way from 30 to 47.5; 1357 rpm half way from 1000 to 1714.3 (0.4998).
  EXPECT_NEAR((*W)(6, 0), 0.25, 1e-3);
  EXPECT_NEAR((*W)(6, 9), 0.25, 1e-3);
  const car::Grid vacuum{grid.x, *car::Axis::make(car::AxisKind::vacuum, {0, 61.25e3, 80e3})};
  const auto V = weights_onto(e, vacuum);
  ASSERT_TRUE(V.ok());
  EXPECT_TRUE(V->row(6).isApprox(W->row(6)));  // ambient 100 kPa less 61.25
  const car::Grid throttle{grid.x, *car::Axis::make(car::AxisKind::throttle, {0, 1})};
  EXPECT_FALSE(weights_onto(e, throttle).ok());
}

TEST(Ensemble, QuantilesOfAKnownListAreThoseByHand) {
  const std::vector<double> v{4, 1, 3, 2};  // at shares 1/8, 3/8, 5/8, 7/8
  EXPECT_DOUBLE_EQ(quantile(v, 0.5), 2.5);
  EXPECT_DOUBLE_EQ(quantile(v, 0.375), 2);
  EXPECT_DOUBLE_EQ(quantile(v, 0), 1);
  EXPECT_DOUBLE_EQ(quantile(v, 1), 4);
  EXPECT_DOUBLE_EQ(quantile(std::vector<double>{7}, 0.3), 7);
}

}  // namespace
}  // namespace fuelwright::physics::ensemble_test
