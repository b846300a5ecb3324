#include "physics/ensemble/condition.h"

#include <gtest/gtest.h>

#include <Eigen/Dense>

#include "physics/ensemble/internal/test_engine.h"

namespace fuelwright::physics::condition_test {
namespace {

constexpr double kNoise = 0.015;  // of a cell

struct Bench {
  MapPlaces places = test_places();
  Eigen::MatrixXd J = test_sensitivities(places, 12, 0.05);
  EnsembleSettings settings;
  Bench() { settings.discrepancy = Discrepancy::only_smooth(); }
  Ensemble ensemble(int members = 256) const {
    return Ensemble(test_drawn(J, places, members, 5), settings);
  }

  // Light load (the three lowest pressures) seen with noise.
  Observed light_load(const Eigen::VectorXd& truth, const Eigen::VectorXd& noise) const {
    constexpr Eigen::Index kCells = 24;
    Observed o;
    o.rows = Eigen::MatrixXd::Identity(kCells, truth.size());
    o.ln_ve = truth.head(kCells) + kNoise * noise.head(kCells);
    o.noise = kNoise * kNoise * Eigen::MatrixXd::Identity(kCells, kCells);
    return o;
  }
};

TEST(Narrow, EqualsTheDenseFormulaOverNodesAndScaleTogether) {
  const Bench bench;
  const Ensemble e = bench.ensemble(64);
  const Eigen::Index n = e.nodes();
  const Eigen::VectorXd truth = e.draws(1, 8).row(0);
  const Observed o = bench.light_load(truth, normal_draws(1, 40, 2).row(0));
  const auto now = conditioned(e, o);
  ASSERT_TRUE(now.ok());
  // Joint state (f, s), information form: (P^-1 + A' R^-1 A)^-1, another way to the same.
  Eigen::MatrixXd P = Eigen::MatrixXd::Zero(n + 1, n + 1);
  P.topLeftCorner(n, n) = e.covariance();
  P(n, n) = 0.04 * 0.04;
  Eigen::MatrixXd A(o.rows.rows(), n + 1);
  A << o.rows, Eigen::VectorXd::Ones(o.rows.rows());
  const Eigen::MatrixXd C = (P.inverse() + A.transpose() * A / (kNoise * kNoise)).inverse();
  const Eigen::VectorXd x = C * A.transpose() * (o.ln_ve - o.rows * e.mean()) / (kNoise * kNoise);
  EXPECT_LT((now->mean - e.mean() - x.head(n)).cwiseAbs().maxCoeff(), 1e-7);
  EXPECT_LT((now->covariance - C.topLeftCorner(n, n)).cwiseAbs().maxCoeff(), 1e-8);
  EXPECT_NEAR(now->scale, x[n], 1e-7);
  EXPECT_NEAR(now->scale_sd, std::sqrt(C(n, n)), 1e-7);
  EXPECT_LT((now->with_scale - C.col(n).head(n)).cwiseAbs().maxCoeff(), 1e-8);
}

TEST(Narrow, ClaimsWhatItThenKeepsOnEnginesNotDrawnBefore) {
  const Bench bench;
  const Ensemble e = bench.ensemble();
  const Eigen::MatrixXd engines = normal_draws(200, 12, 77) * bench.J;
  const Eigen::MatrixXd noise = normal_draws(200, 40, 78);
  double error2 = 0, claimed2 = 0, prior2 = 0;
  int inside = 0, count = 0, in_family = 0;
  for (Eigen::Index m = 0; m < engines.rows(); ++m) {
    Eigen::VectorXd truth = engines.row(m);
    for (Eigen::Index i = 0; i < truth.size(); ++i) truth[i] += test_level(bench.places, i);
    const auto now = narrow(e, bench.light_load(truth, noise.row(m)));
    ASSERT_TRUE(now.ok());
    in_family += now->family.verdict == Family::inside ? 1 : 0;
    const Eigen::VectorXd sd = now->sd_log();
    for (Eigen::Index i = 32; i < 40; ++i, ++count) {  // full throttle, never observed
      const double error = now->mean[i] - truth[i];
      error2 += error * error;
      claimed2 += sd[i] * sd[i];
      prior2 += std::pow(e.sd_log(i), 2);
      inside += std::abs(error) < k95 * sd[i] ? 1 : 0;
    }
  }
  EXPECT_LT(claimed2, 0.5 * prior2);   // light load tells of full throttle
  EXPECT_LT(error2, 1.15 * claimed2);  // and no more is claimed than is kept
  EXPECT_GT(inside, 0.93 * count);
  EXPECT_GT(in_family, 180);  // of 200; 5 % are called doubtful
}

TEST(Narrow, AnEngineOutsideTheFamilyIsRecognised) {
  const Bench bench;
  const Ensemble e = bench.ensemble();
  Eigen::VectorXd truth = e.mean();
  for (Eigen::Index i = 0; i < truth.size(); ++i)
    truth[i] += i % 2 == 0 ? 0.06 : -0.06;  // no smooth engine
  const auto now = narrow(e, bench.light_load(truth, Eigen::VectorXd::Zero(40)));
  ASSERT_TRUE(now.ok());
  EXPECT_EQ(now->family.verdict, Family::outside);
  EXPECT_FALSE(now->family.may_extrapolate());
  EXPECT_GT(now->family.chi2_per_cell, 2);
  EXPECT_NE(now->family.says().find("does not fit"), std::string::npos);
  // What was seen is kept, what was not is left as it was.
  EXPECT_NEAR(now->mean[4], truth[4], 0.03);
  EXPECT_LT(now->sd_log()[4], 0.1);
  EXPECT_EQ(now->mean[36], e.mean()[36]);
  EXPECT_DOUBLE_EQ(now->sd_log()[36], e.sd_log(36));
  EXPECT_EQ(Eigen::LLT<Eigen::MatrixXd>(now->covariance).info(), Eigen::Success);
}

// A doubtful engine is still extrapolated, and what is claimed widens with its worst mark.
TEST(Narrow, ADoubtfulEngineWidensWhatIsClaimed) {
  const Bench bench;
  const Ensemble e = bench.ensemble();
  Narrowed doubtful;
  Observed o;
  for (double z = 1; z < 6 && doubtful.family.verdict != Family::doubtful; z += 0.1) {
    o = bench.light_load(e.mean() + z * bench.J.row(1).transpose(), Eigen::VectorXd::Zero(40));
    doubtful = *narrow(e, o);
  }
  ASSERT_EQ(doubtful.family.verdict, Family::doubtful);
  EXPECT_TRUE(doubtful.family.may_extrapolate());
  const Narrowed plain = *conditioned(e, o);
  const FamilyTest& test = plain.family;
  const double worst =
      std::max({1.0, test.chi2_per_cell, test.taken_up, test.left_over, test.in_strong});
  EXPECT_GT(worst, 1);
  EXPECT_EQ(doubtful.mean, plain.mean);
  EXPECT_NEAR(doubtful.covariance(36, 36), worst * plain.covariance(36, 36), 1e-12);
  EXPECT_NEAR(doubtful.fuelled_covariance()(36, 36), worst * plain.fuelled_covariance()(36, 36),
              1e-12);
}

TEST(Narrow, ALevelNoPartCouldGiveIsOutsideToo) {
  Bench bench;
  bench.settings.scale_sd = 0.01;
  const Ensemble e = bench.ensemble();
  const Eigen::VectorXd truth = e.mean().array() + 0.6;
  const auto now = narrow(e, bench.light_load(truth, normal_draws(1, 40, 2).row(0)));
  ASSERT_TRUE(now.ok());
  EXPECT_EQ(now->family.verdict, Family::outside);
}

TEST(Narrow, ACommonErrorOfTheInjectorsIsLearnedApart) {
  Bench bench;
  bench.J *= 0.2;  // parts known well: what all cells share is then not the engine
  const Ensemble e = bench.ensemble();
  const Eigen::VectorXd truth = e.mean();
  Observed o = bench.light_load(truth, Eigen::VectorXd::Zero(40));
  o.ln_ve.array() += 0.05;
  const auto now = narrow(e, o);
  ASSERT_TRUE(now.ok());
  EXPECT_GT(now->scale, 0.035);
  EXPECT_LT(now->scale_sd, 0.4 * 0.04);
  EXPECT_NEAR(now->fuelled()[10], truth[10] + 0.05, 0.006);
  EXPECT_LT(now->fuelled_sd_log()[10], now->sd_log()[10]);  // their sum is known better than either
}

TEST(Narrow, NothingSeenChangesNothing) {
  const Bench bench;
  const Ensemble e = bench.ensemble(64);
  const auto now = narrow(e, {});
  ASSERT_TRUE(now.ok());
  EXPECT_EQ(now->mean, e.mean());
  EXPECT_EQ(now->covariance, e.covariance());
  EXPECT_EQ(now->family.cells, 0);
}

TEST(Narrow, RefusesWhatIsNoMeasurement) {
  const Bench bench;
  const Ensemble e = bench.ensemble(64);
  Observed o = bench.light_load(e.mean(), Eigen::VectorXd::Zero(40));
  o.ln_ve[3] = std::nan("");
  EXPECT_FALSE(narrow(e, o).ok());
  o.ln_ve[3] = 0;
  o.noise(0, 0) = -1;
  EXPECT_FALSE(narrow(e, o).ok());
}

TEST(Narrow, AFewCellsDoNotCondemnAnEngine) {
  const Bench bench;
  const Ensemble e = bench.ensemble(64);
  int condemned = 0;
  for (std::uint64_t seed = 0; seed < 200; ++seed) {
    const Eigen::VectorXd truth = e.draws(1, seed).row(0);
    Observed o = bench.light_load(truth, normal_draws(1, 40, seed + 1000).row(0));
    o.rows = o.rows.topRows(3).eval();
    o.ln_ve = o.ln_ve.head(3).eval();
    o.noise = o.noise.topLeftCorner(3, 3).eval();
    condemned += narrow(e, o)->family.verdict == Family::outside ? 1 : 0;
  }
  EXPECT_LE(condemned, 5);  // 1 % of 200, and two sd more
}

}  // namespace
}  // namespace fuelwright::physics::condition_test
