#include "physics/ensemble/family.h"

#include <gtest/gtest.h>

#include <Eigen/Dense>

#include "physics/ensemble/internal/test_engine.h"

namespace fuelwright::physics::family_cars_test {
namespace {

constexpr double kNoise = 0.015;     // of a cell
constexpr Eigen::Index kCells = 24;  // the three lowest pressures at every speed

EnsembleSettings only_members() {
  EnsembleSettings s = without_discrepancy();
  s.scale_sd = 0;
  return s;
}

Observed light_load(const Ensemble& e, const Eigen::VectorXd& ln_ve) {
  return {Eigen::MatrixXd::Identity(kCells, e.nodes()), ln_ve.head(kCells),
          kNoise * kNoise * Eigen::MatrixXd::Identity(kCells, kCells)};
}

// Linear engines with a smooth discrepancy, as the ensemble claims them, seen with noise.
struct Engines {
  MapPlaces places = test_places();
  Eigen::MatrixXd J = test_sensitivities(places, 12, 0.05);
  EnsembleSettings settings;
  Engines() { settings.discrepancy = Discrepancy::only_smooth(); }
  Ensemble ensemble(int members) const {
    return Ensemble(test_drawn(J, places, members, 5), settings);
  }
  double called(const Ensemble& e, int engines, std::uint64_t seed) const {
    const auto n = static_cast<int>(e.nodes());
    const Eigen::LLT<Eigen::MatrixXd> root(e.covariance() - e.covariance_of_members());
    Eigen::MatrixXd y = normal_draws(engines, static_cast<int>(J.rows()), seed) * J;
    y += normal_draws(engines, n, seed + 1) * root.matrixL().transpose();
    y += kNoise * normal_draws(engines, n, seed + 2);
    const Eigen::VectorXd common = settings.scale_sd * normal_draws(engines, 1, seed + 3);
    int out = 0;
    for (Eigen::Index m = 0; m < engines; ++m) {
      Eigen::VectorXd seen = y.row(m).array() + common[m];
      for (Eigen::Index i = 0; i < n; ++i) seen[i] += test_level(places, i);
      out += family_test(e, light_load(e, seen)).verdict == Family::inside ? 0 : 1;
    }
    return static_cast<double>(out) / engines;
  }
};

// One place, one part that moves it by 5 %, noise of 5 %: S = 0.05^2 + 0.05^2 = 0.005. An engine
// 10 % off: chi2 = 0.1^2 / 0.005 = 2, half of what can be seen is the part (freedom 1/2).
TEST(Family, OnePlaceAndOnePartByHand) {
  const MapPlaces places = test_places(2, 2);
  const Ensemble e(test_drawn(Eigen::MatrixXd::Constant(1, 4, 0.05), places, 512, 5),
                   only_members());
  Observed o{Eigen::MatrixXd::Zero(1, 4), Eigen::VectorXd(1), Eigen::MatrixXd(1, 1)};
  o.rows(0, 2) = 1;
  o.ln_ve << e.mean()[2] + 0.1;
  o.noise << 0.05 * 0.05;
  const FamilyTest test = family_test(e, o);
  constexpr double kSample = 0.01;  // 512 members' variance against 1, and 0.1 % by itself
  EXPECT_EQ(test.cells, 1);
  EXPECT_NEAR(test.chi2_per_cell, 2, 2 * kSample);
  EXPECT_NEAR(test.freedom, 0.5, kSample);
  EXPECT_NEAR(test.taken_up, 2, 2 * kSample);
  EXPECT_NEAR(test.left_over, 2, 2 * kSample);
  // |z| > sqrt 2 has a chance of 15.7 % (table of the normal distribution, from memory).
  EXPECT_NEAR(test.chance, 0.157, 0.03);
  EXPECT_EQ(test.verdict, Family::inside);
}

TEST(Family, MarksEqualTheDenseFormula) {
  const Engines engines;
  const Ensemble e = engines.ensemble(200);
  const Observed o = light_load(e, e.draws(1, 8).row(0));
  const FamilyTest test = family_test(e, o);
  const Eigen::MatrixXd d = e.deviations().leftCols(kCells);
  const Eigen::MatrixXd C = d.transpose() * d / 199;
  Eigen::MatrixXd W = (e.covariance() - e.covariance_of_members()).topLeftCorner(kCells, kCells);
  W += o.noise;
  W.array() += 0.04 * 0.04;  // the common error
  const Eigen::VectorXd r = o.ln_ve - e.mean().head(kCells);
  const Eigen::MatrixXd inverse = (C + W).inverse();
  const Eigen::VectorXd a = inverse * r;
  constexpr double kClose = 1e-6;
  EXPECT_NEAR(test.chi2_per_cell * kCells, r.dot(a), kClose);
  EXPECT_NEAR(test.freedom, (inverse * C).trace(), kClose);
  EXPECT_NEAR(test.taken_up * test.freedom, a.dot(C * a), kClose);
  EXPECT_NEAR(test.left_over * (kCells - test.freedom), a.dot(W * a), kClose);
}

// 5 % are meant; 300 engines tell that to 1.3 % (one sd of a binomial).
TEST(Family, CallsOneEngineInTwentyOfTheFamilyWrongly) {
  const Engines engines;
  const double called = engines.called(engines.ensemble(256), 300, 100);
  EXPECT_LT(called, 0.08);
  EXPECT_GT(called, 0.015);
}

// With 20 members for 24 places chi-squared by itself would condemn nearly everyone.
TEST(Family, FewMembersDoNotMakeItCallMore) {
  const Engines engines;
  EXPECT_LT(engines.called(engines.ensemble(64), 200, 200), 0.09);
  EXPECT_LT(engines.called(engines.ensemble(20), 200, 300), 0.12);
}

// Of 128 engines 10 have a part eight times further off than usual: chi2 of another such engine is
// 3.3^2 in one direction, a chance of 0.1 % if they were normal. But 8 % of the family are like it.
TEST(Family, AnEngineLikeAFewOddMembersIsOfTheFamily) {
  const Engines engines;
  Drawn drawn = test_drawn(engines.J, engines.places, 128, 5);
  const Eigen::RowVectorXd part = engines.J.row(0);
  for (int m = 0; m < 10; ++m) {
    const double sign = m % 2 == 0 ? 8 : -8;
    AirMap& map = drawn.members[static_cast<std::size_t>(m)];
    for (Eigen::Index i = 0; i < part.size(); ++i)
      map.nodes[static_cast<std::size_t>(i)].ve *= std::exp(sign * part[i]);
  }
  const Ensemble odd(drawn, engines.settings), usual = engines.ensemble(128);
  const Eigen::VectorXd engine = usual.mean() + 8 * part.transpose();
  EXPECT_EQ(family_test(odd, light_load(odd, engine)).verdict, Family::inside);
  EXPECT_NE(family_test(usual, light_load(usual, engine)).verdict, Family::inside);
}

TEST(Family, TheFurtherOffAPartTheSmallerTheChance) {
  const Engines engines;
  const Ensemble e = engines.ensemble(256);
  double before = 1;
  for (const double z : {0.0, 2.0, 4.0, 6.0}) {
    const Eigen::VectorXd engine = e.mean() + z * engines.J.row(1).transpose();
    const double chance = family_test(e, light_load(e, engine)).chance;
    EXPECT_LE(chance, before) << z;
    before = chance;
  }
  EXPECT_LT(before, kDoubtfulChance);
}

TEST(Family, AnErrorOfTheInjectorsIsNoOtherEngine) {
  const Engines engines;
  const Ensemble e = engines.ensemble(256);
  const Eigen::VectorXd all_rich = e.mean().array() + 0.06;  // one and a half of its sd
  EXPECT_EQ(family_test(e, light_load(e, all_rich)).verdict, Family::inside);
}

// Another manifold: a wave over speed that no part of the sheet makes. Looked for, it is named, and
// seen by as many standard deviations as the dense formula says, d' S^-1 r / sqrt(d' S^-1 d).
TEST(Family, AnEngineThatWasLookedForIsNamed) {
  Engines engines;
  Eigen::VectorXd wave(40);
  for (Eigen::Index i = 0; i < wave.size(); ++i)
    wave[i] = 0.05 * std::cos(3.0 * static_cast<double>(i % 8));
  engines.settings.suspects = {{"intake.runner_length", "another manifold", wave}};
  const Ensemble e = engines.ensemble(256);
  const Observed o = light_load(e, e.mean() + wave);
  const FamilyTest test = family_test(e, o);
  EXPECT_EQ(test.suspect, "another manifold");
  EXPECT_NE(test.verdict, Family::inside);
  EXPECT_NE(test.says().find("most like: another manifold"), std::string::npos);
  Eigen::MatrixXd W = (e.covariance() - e.covariance_of_members()).topLeftCorner(kCells, kCells);
  const Eigen::MatrixXd d = e.deviations().leftCols(kCells);
  Eigen::MatrixXd S = d.transpose() * d / 255 + W + o.noise;
  S.array() += 0.04 * 0.04;
  const Eigen::VectorXd g = wave.head(kCells);
  EXPECT_NEAR(test.suspect_sd, std::sqrt(g.dot(S.inverse() * g)), 1e-4);
}

TEST(Family, SaysTheSameTwiceAndInWords) {
  const Engines engines;
  const Ensemble e = engines.ensemble(64);
  const Observed o = light_load(e, e.mean() + 9 * engines.J.row(0).transpose());
  const FamilyTest test = family_test(e, o);
  EXPECT_EQ(test.chance, family_test(e, o).chance);
  ASSERT_NE(test.verdict, Family::inside);
  EXPECT_NE(test.says().find("over 24 places"), std::string::npos);
  EXPECT_NE(test.says().find("of engines with these parts"), std::string::npos);
  EXPECT_EQ(FamilyTest{}.says(), "nothing has been measured yet");
}

}  // namespace
}  // namespace fuelwright::physics::family_cars_test
