#include "advice/map_estimate/estimate.h"

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <cmath>
#include <random>

namespace fuelwright::advice::estimate_test {
namespace {

using car::AxisKind;
using car::NodeMark;

car::Grid grid() {
  return {car::Axis::even(AxisKind::engine_speed, 800, 5600, 9),
          car::Axis::even(AxisKind::map_absolute, 20e3, 100e3, 9)};
}

car::OperatingPoint at(double n, double kpa) {
  return {.speed = rpm(n), .map = absolute(kpa * kPa)};
}

// A drive: a walk over the middle of the table, each second one sample, noise of one percent.
struct Drive {
  std::vector<Sample> samples;
  SampleSource source() const {
    return [this](const std::function<void(const Sample&)>& f) {
      for (const Sample& s : samples) f(s);
    };
  }
};

template <class Truth>
Drive drive(Truth ln_truth, int seconds, unsigned seed, double noise = 0.01, double step = 0.08) {
  std::mt19937 random(seed);
  std::normal_distribution<double> g;
  double a = 0.2;
  double b = 0.4;
  Drive d;
  for (int i = 0; i < seconds; ++i) {
    a = std::clamp(a + step * g(random), 0.0, 1.0);
    b = std::clamp(b + step * g(random), 0.0, 1.0);
    Sample s;
    s.at = at(1000 + 3000 * a, 30 + 50 * b);
    s.sd = noise;
    s.y = ln_truth(s.at) + noise * g(random);
    d.samples.push_back(s);
  }
  return d;
}

TEST(MapEstimate, ATableTenPercentLowIsCorrectedByTenPercentEverywhereDriven) {
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  const Drive d = drive([](const car::OperatingPoint&) { return std::log(0.88 / 0.80); }, 600, 1);
  const MapEstimate e = estimate(table, car::TableWhat::ve, d.source(), {});
  EXPECT_EQ(e.verdict, Verdict::good);
  EXPECT_NEAR(e.shift.ln, 0.0953, 0.004);  // ln(0.88 / 0.80) = 0.0953, by hand
  for (std::size_t i = 0; i < e.evidence.mark.size(); ++i) {
    if (e.evidence.mark[i] != NodeMark::measured) continue;
    EXPECT_NEAR(e.evidence.estimate[i], 0.88, 0.02);
  }
}

TEST(MapEstimate, NothingDrivenIsSaidAndChangesNothing) {
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  const MapEstimate e =
      estimate(table, car::TableWhat::ve, [](const std::function<void(const Sample&)>&) {}, {});
  EXPECT_EQ(e.verdict, Verdict::do_not_know);
  for (std::size_t i = 0; i < e.evidence.mark.size(); ++i) {
    EXPECT_EQ(e.evidence.mark[i], NodeMark::prior_only);
    EXPECT_DOUBLE_EQ(e.evidence.estimate[i], 0.80);
    EXPECT_GT(e.evidence.sd_log[i], 0.09);
  }
}

TEST(MapEstimate, TwoSecondsOfDrivingProveNothing) {
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  const Drive d = drive([](const car::OperatingPoint&) { return 0.05; }, 2, 4, 0.05);
  const MapEstimate e = estimate(table, car::TableWhat::ve, d.source(), {});
  EXPECT_NE(e.verdict, Verdict::good);
}

TEST(MapEstimate, NodesFarFromAnyDrivingStayGuesses) {
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  const Drive d = drive([](const car::OperatingPoint&) { return 0.1; }, 600, 2);
  const MapEstimate e = estimate(table, car::TableWhat::ve, d.source(), {});
  const auto g = grid();
  EXPECT_EQ(e.evidence.mark[g.index(8, 8)], NodeMark::prior_only);  // 5600 rpm, 100 kPa
  EXPECT_GT(e.evidence.sd_log[g.index(8, 8)], 2 * e.evidence.sd_log[g.index(2, 4)]);
}

TEST(MapEstimate, AColdMorningIsNotTakenForAnotherEngine) {
  // Two days, 273 K and 303 K; VE goes with the root of intake temperature; the table is for 293.15
  // K.
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  Drive d = drive([](const car::OperatingPoint&) { return 0.02; }, 1200, 21);
  for (std::size_t i = 0; i < d.samples.size(); ++i) {
    d.samples[i].warmth = std::log((i < 600 ? 273.0 : 303.0) / 293.15);
    d.samples[i].y += 0.5 * d.samples[i].warmth;
  }
  const MapEstimate e = estimate(table, car::TableWhat::ve, d.source(), {});
  EXPECT_NEAR(e.charge_exponent, 0.5, 0.05);
  EXPECT_NEAR(e.shift.ln, 0.02, 0.005);
  const double warm = std::log(303.0 / 293.15);
  EXPECT_NEAR(e.at(at(2500, 55), warm).ln - e.at(at(2500, 55)).ln, e.charge_exponent * warm, 1e-12);
}

TEST(MapEstimate, AFewWildReadingsDoNotMoveTheTable) {
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  Drive d = drive([](const car::OperatingPoint&) { return 0.05; }, 900, 3);
  for (std::size_t i = 0; i < d.samples.size(); i += 20)
    d.samples[i].y += 0.6;  // misfire reads lean
  const MapEstimate e = estimate(table, car::TableWhat::ve, d.source(), {});
  EXPECT_NEAR(e.shift.ln, 0.05, 0.005);  // plain averaging would say 0.08
}

TEST(MapEstimate, RepeatedReadingsAreNotTakenForProof) {
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  const Drive once = drive([](const car::OperatingPoint&) { return 0.05; }, 400, 6, 0.02);
  Drive five;  // the same readings, each logged five times at five times the rate
  for (const Sample& s : once.samples) {
    for (int k = 0; k < 5; ++k) {
      five.samples.push_back(s);
      five.samples.back().seconds = 0.2;
    }
  }
  EstimateOptions options;
  options.discrepancy = 0;
  const MapEstimate a = estimate(table, car::TableWhat::ve, once.source(), options);
  const MapEstimate b = estimate(table, car::TableWhat::ve, five.source(), options);
  EXPECT_GT(b.repetition, 3.0);
  EXPECT_NEAR(a.shift.sd / b.shift.sd, 1.0, 0.25);
}

TEST(MapEstimate, AnAirMeterThatReadsHighIsFoundAgainstTheMixture) {
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  const auto truth = [](const car::OperatingPoint&) { return 0.05; };
  Drive d = drive(truth, 400, 8);
  const Drive metered =
      drive([&](const car::OperatingPoint& p) { return truth(p) + 0.04; }, 400, 9);
  for (Sample s : metered.samples) {
    s.instrument = 1;
    d.samples.push_back(s);
  }
  EstimateOptions options;
  options.instrument_level_sd = {0.04};
  const MapEstimate e = estimate(table, car::TableWhat::ve, d.source(), options);
  EXPECT_NEAR(e.instrument_level[1], 0.04, 0.008);
  EXPECT_NEAR(e.shift.ln, 0.05, 0.008);
}

TEST(MapEstimate, IntervalsThatSayNinetyFivePercentHoldAboutThatOften) {
  // Truths drawn from the prior itself, 40 engines: the posterior's own claim must come true.
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  const Eigen::MatrixXd K = covariance(table_as_found_prior(), grid());
  const Eigen::MatrixXd L = K.llt().matrixL();
  int inside = 0;
  int all = 0;
  for (unsigned seed = 1; seed <= 40; ++seed) {
    std::mt19937 random(100 + seed);
    std::normal_distribution<double> g;
    Eigen::VectorXd z(K.rows());
    for (double& v : z) v = g(random);
    const Eigen::VectorXd delta = L * z;
    car::Surface truth = car::Surface::flat(grid(), 0.0);
    for (std::size_t i = 0; i < truth.values.size(); ++i)
      truth.values[i] = delta[static_cast<Eigen::Index>(i)];
    const Drive d =
        drive([&](const car::OperatingPoint& p) { return truth.at(p); }, 300, seed, 0.02);
    EstimateOptions options;
    options.discrepancy = options.discrepancy_low_load = 0;
    const MapEstimate e = estimate(table, car::TableWhat::ve, d.source(), options);
    for (std::size_t i = 0; i < truth.values.size(); ++i) {
      const double error = std::log(e.evidence.estimate[i] / 0.80) - truth.values[i];
      inside += std::abs(error) <= e.evidence.half_width(i);
      ++all;
    }
  }
  const double share = static_cast<double>(inside) / all;
  EXPECT_GT(share, 0.92);
  EXPECT_LT(share, 0.98);
}

TEST(MapEstimate, TheOrderOfUntimedRowsDoesNotMatterMuchButTheAnswerIsTheSameEachTime) {
  const car::Surface table = car::Surface::flat(grid(), 0.80);
  const Drive d = drive([](const car::OperatingPoint& p) { return 1e-5 * p.speed.rpm; }, 300, 12);
  const MapEstimate a = estimate(table, car::TableWhat::ve, d.source(), {});
  const MapEstimate b = estimate(table, car::TableWhat::ve, d.source(), {});
  EXPECT_EQ(a.evidence.estimate, b.evidence.estimate);
}

}  // namespace
}  // namespace fuelwright::advice::estimate_test
