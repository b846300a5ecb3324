#include "advice/dynamic_estimate/incremental.h"

#include <gtest/gtest.h>

#include <cmath>

#include "advice/dynamic_estimate/test_drives.h"

namespace fuelwright::advice::incremental_test {
namespace {

constexpr auto kVe = car::TableWhat::ve;
constexpr double kSame = 1e-6;  // what is asked
constexpr double kRounding = 1e-9;

/// Random numbers of the tests: the same in every run.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : s_(seed * 2654435761U + 12345) {}
  std::size_t up_to(std::size_t most) {
    s_ = s_ * 6364136223846793005ULL + 1442695040888963407ULL;
    return static_cast<std::size_t>(s_ >> 33) % (most + 1);
  }

 private:
  std::uint64_t s_;
};

Driving driving(const TestCar& c, const signals::Recording& r) {
  auto d = Driving::make(r, c.sheet, c.found(), c.found(), {});
  EXPECT_TRUE(d.ok()) << (d.ok() ? "" : d.error().line());
  return std::move(*d);
}

void add_in_pieces(RunningEstimate& ride, const Driving& d, std::size_t longest,
                   std::uint64_t seed) {
  Dice dice(seed);
  for (std::size_t i = 0; i < d.rows();) {
    const std::size_t n = std::min(dice.up_to(longest), d.rows() - i);
    ride.add(d.part(i, i + n));
    i += n;
  }
}

void expect_same(const DynamicEstimate& a, const DynamicEstimate& b) {
  EXPECT_LT((a.map.mean - b.map.mean).cwiseAbs().maxCoeff(), kSame);
  for (std::size_t k = 0; k < a.map.evidence.sd_log.size(); ++k) {
    EXPECT_NEAR(a.map.evidence.sd_log[k], b.map.evidence.sd_log[k], kSame);
    EXPECT_NEAR(a.map.evidence.estimate[k], b.map.evidence.estimate[k], kSame);
    EXPECT_NEAR(a.map.evidence.seconds[k], b.map.evidence.seconds[k], kSame);
    EXPECT_EQ(a.map.evidence.mark[k], b.map.evidence.mark[k]);
  }
  EXPECT_LT((a.known.covariance - b.known.covariance).cwiseAbs().maxCoeff(), kSame * kSame);
  for (std::size_t k = 0; k < kThetas; ++k) {
    EXPECT_NEAR(a.theta[k], b.theta[k], kSame);
    EXPECT_NEAR(a.theta_sd[k], b.theta_sd[k], kSame);
  }
  EXPECT_NEAR(a.dead_time_ms.value, b.dead_time_ms.value, kSame);
  EXPECT_EQ(a.map.samples, b.map.samples);
  EXPECT_EQ(a.map.because, b.map.because);
}

// Where a batch of a few passes stood.
HeldPoint point_of(const TestCar& c, const Driving& d) {
  DynamicOptions o = options_for(c.sheet);
  o.passes = 3;
  return estimate_dynamic(c.found(), kVe, {&d, 1}, {}, o).point;
}
Known nothing(const TestCar& c, const Driving& d, const HeldPoint& point) {
  Driving none = d.part(0, 0);
  return estimate_dynamic_at(point, c.found(), kVe, {&none, 1}, {}, options_for(c.sheet)).known;
}

struct Ridden {
  DynamicEstimate batch;
  DynamicEstimate pieces;
};
// The same drive at once and in random pieces, at the same point.
Ridden ridden(const TestCar& c, const Driving& d, HeldPoint point, std::size_t longest,
              std::uint64_t seed) {
  point.drift.clear();  // a ride does not know its drift beforehand
  const auto o = options_for(c.sheet);
  RunningEstimate ride(c.found(), kVe, o, nothing(c, d, point), point);
  add_in_pieces(ride, d, longest, seed);
  return {estimate_dynamic_at(point, c.found(), kVe, {&d, 1}, {}, o), ride.now()};
}

TEST(RunningEstimate, EqualsTheBatchHoweverTheDriveIsCut) {
  for (const std::uint64_t seed : {81, 82, 83}) {
    const TestCar c = invent(seed);
    const Driving d = driving(c, drive(c, seed, 1));
    const Ridden r = ridden(c, d, point_of(c, d), 40, seed);
    ASSERT_GT(r.batch.map.samples, 300) << seed;
    expect_same(r.pieces, r.batch);
  }
}

TEST(RunningEstimate, EqualsTheBatchWhereTheDelayIsLongerThanThePieces) {
  // Exhaust of a long pipe at idle takes a second and more; pieces of at most a tenth.
  const TestCar c = invent(84, "exhaust.pipe_g = 6\n");
  const Driving d = driving(c, drive(c, 84, 0.5));
  HeldPoint point = point_of(c, d);
  point.x[point.x.size() - kThetas + kLnGas] = std::log(6e-3);
  const Ridden r = ridden(c, d, point, 2, 1);
  ASSERT_GT(r.batch.map.samples, 100);
  expect_same(r.pieces, r.batch);
}

TEST(RunningEstimate, EqualsTheBatchThroughFuelCutsAndAGapInTheRecording) {
  const TestCar c = invent(85);
  auto r = drive(c, 85, 2);
  for (std::size_t i = 1003; i < r.rows; ++i) r.time_s[i] += 30;
  for (std::size_t i = 2000; i < 2030; ++i) {
    for (signals::Channel& channel : r.channels) channel.si[i] = NAN;
  }
  const Driving d = driving(c, r);
  ASSERT_EQ(d.stretches.size(), 3U);
  long cuts = 0;
  for (std::size_t i = 0; i < d.rows(); ++i) cuts += d.fuel_kg_s[i] <= 0;
  ASSERT_GT(cuts, 20);
  for (const std::size_t longest : {20UL, 400UL}) {
    const Ridden x = ridden(c, d, point_of(c, d), longest, longest);
    expect_same(x.pieces, x.batch);
  }
}

TEST(RunningEstimate, DriftKnotsThatArePastAreLeftOutWithoutLoss) {
  // Three and a half minutes: the batch has five knots, the ride two at a time.
  const TestCar c = invent(86);
  const Driving d = driving(c, drive(c, 86, 3.5));
  const Ridden r = ridden(c, d, point_of(c, d), 60, 3);
  expect_same(r.pieces, r.batch);
}

TEST(RunningEstimate, RelinearisedItIsTheBatchAtItsNewPointAndGoesOnAsSuch) {
  const TestCar c = invent(87);
  const Driving d = driving(c, drive(c, 87, 3));
  const auto o = options_for(c.sheet);
  RunningEstimate ride(c.found(), kVe, o);
  ride.add(d.part(0, 2500));
  for (int k = 0; k < 2; ++k) ride.relinearise();
  const Driving so_far = d.part(0, 2500);
  expect_same(ride.now(), estimate_dynamic_at(ride.point(), c.found(), kVe, {&so_far, 1}, {}, o));
  Dice dice(5);
  for (std::size_t i = 2500; i < d.rows();) {
    const std::size_t n = std::min(dice.up_to(50), d.rows() - i);
    ride.add(d.part(i, i + n));
    i += n;
  }
  expect_same(ride.now(), estimate_dynamic_at(ride.point(), c.found(), kVe, {&d, 1}, {}, o));
}

TEST(RunningEstimate, FollowingItsAdviceItEndsWhereTheBatchEnds) {
  const TestCar c = invent(88);
  const Driving d = driving(c, drive(c, 88, 2));
  const auto o = options_for(c.sheet);
  const DynamicEstimate batch = estimate_dynamic(c.found(), kVe, {&d, 1}, {}, o);
  RunningEstimate ride(c.found(), kVe, o);
  int moved = 0;
  for (std::size_t i = 0; i < d.rows(); i += 20) {
    ride.add(d.part(i, std::min(i + 20, d.rows())));
    if (!ride.stale()) continue;
    ride.relinearise();
    ++moved;
  }
  EXPECT_LT(moved, 16);  // a quarter more each time
  for (int k = 0; k < 3; ++k) ride.relinearise();
  const DynamicEstimate e = ride.now();
  // Both are Gauss and Newton on the same rows, stopped at 0.05 % rms.
  EXPECT_LT((e.map.mean - batch.map.mean).norm() / 16, 2e-3);
  EXPECT_NEAR(e.map.noise_scale, batch.map.noise_scale, 0.05 * batch.map.noise_scale);
  EXPECT_NEAR(e.map.repetition, batch.map.repetition, 0.15 * batch.map.repetition);
}

TEST(RunningEstimate, MoreRowsNeverMakeAStateLessSure) {
  const TestCar c = invent(89);
  const Driving d = driving(c, drive(c, 89, 1.5));
  RunningEstimate ride(c.found(), kVe, options_for(c.sheet));
  Eigen::VectorXd before = ride.now().known.covariance.diagonal();
  double sum = before.sum();
  for (std::size_t i = 0; i < d.rows(); i += 20) {
    ride.add(d.part(i, std::min(i + 20, d.rows())));
    const Eigen::VectorXd now = ride.now().known.covariance.diagonal();
    EXPECT_LE((now - before).maxCoeff(), kRounding * before.maxCoeff()) << i;
    before = now;
  }
  EXPECT_LT(before.sum(), 0.7 * sum);  // and they did teach
}

TEST(RunningEstimate, ByHandALevelIsTheWeightedMeanOfPriorAndRows) {
  // One unknown, the level of the table, 10 % before driving. Every row reads 5 % lean with a noise
  // of 0.6 % and counts a tenth (VIF 10, a half second at 20 Hz). n rows: information
  // 100 + n/(10 0.006^2) = 100 + 2777.8 n; n = 97: 269544, sd 0.1926 %, mean 0.05 (1 - 100/269544).
  const car::Grid grid{car::Axis::even(car::AxisKind::engine_speed, 1000, 4000, 4),
                       car::Axis::even(car::AxisKind::map_absolute, 30e3, 100e3, 4)};
  const auto n = static_cast<Eigen::Index>(grid.size());
  DynamicOptions o;
  o.prior = Prior{.description = "a level"};
  o.prior.given = [n](const car::Grid&) { return Eigen::MatrixXd::Constant(n, n, 0.01).eval(); };
  o.dynamics.mean = {0.0, std::log(1e-6), std::log(1e-6), 0.0, std::log(0.5), 0.0, 0.0,
                     0.0, std::log(3.0)};
  o.dynamics.sd.fill(1e-9);
  o.dynamics.beside = {};
  o.dynamics.beside_sd.fill(1e-9);
  o.dead_time_sd = 1e-9 * ms;
  o.heating_sd = o.drift_sd = 1e-9;
  Driving d;
  d.stretches = {{0, 101}};
  d.fuel_kg_s.assign(101, 0.02 / 14.7);
  d.dead_kg_s2.assign(101, 0.02 / 14.7 / 3e-3);
  d.air_kg_s.assign(101, 0.02);
  d.heating.assign(101, 0.0);
  d.rpm.assign(101, 2000.0);
  d.map_pa.assign(101, 50e3);
  d.coolant_k.assign(101, 363.15);
  d.reading_ln.assign(101, 0.05);
  d.idle.assign(101, 0.0);
  d.exhaust_pa.assign(101, 0.0);
  d.since_cut_s.assign(101, 1e3);
  d.high_load_s.assign(101, 0.0);
  d.usable.assign(101, 1);
  d.at.assign(101, grid.shares({.speed = rpm(2000), .map = absolute(50.0 * kPa)}));
  RunningEstimate ride(car::Surface::flat(grid, 0.8), kVe, o);
  for (std::size_t i = 0; i < 101; ++i) ride.add(d.part(i, i + 1));
  const DynamicEstimate e = ride.now();
  // Two rows until the gas has arrived, one that has none before it, one that waits for its next.
  ASSERT_EQ(e.map.samples, 97);
  const double information = 100 + 97 / (10 * 0.006 * 0.006);
  // A table's prior has 0.1 % of each node's own in it: 1e-6 of 1e-2.
  EXPECT_NEAR(e.map.mean[5], 0.05 * (1 - 100 / information), 2e-5);
  EXPECT_NEAR(std::sqrt(e.map.covariance(5, 5)), 1 / std::sqrt(information), 5e-4);
  EXPECT_NEAR(e.map.repetition, 10, 1e-9);
}

TEST(RunningEstimate, OnTopOfAnEarlierDriveItKnowsBothAndSaysSo) {
  const TestCar c = invent(90);
  const Driving first = driving(c, drive(c, 90, 1.5));
  const Driving second = driving(c, drive(c, 91, 1));
  const auto o = options_for(c.sheet);
  const DynamicEstimate e = estimate_dynamic(c.found(), kVe, {&first, 1}, {}, o);
  RunningEstimate ride(c.found(), kVe, o, e.known, e.point);
  // Before its first row it is the earlier estimate.
  EXPECT_LT((ride.now().map.mean - e.map.mean).cwiseAbs().maxCoeff(), kRounding);
  EXPECT_EQ(ride.now().map.samples, e.map.samples);
  add_in_pieces(ride, second, 20, 1);
  HeldPoint point = e.point;
  point.drift.clear();
  expect_same(ride.now(),
              estimate_dynamic_at(point, c.found(), kVe, {&second, 1}, {}, o, &e.known));
  EXPECT_LT(ride.now().map.covariance.trace(), e.map.covariance.trace());
  EXPECT_GT(ride.now().map.seconds, e.map.seconds);
}

TEST(RunningEstimate, RowsMadeAnewByAnotherLawReplaceTheOldOnes) {
  const TestCar c = invent(92);
  const Driving d = driving(c, drive(c, 92, 1));
  Driving other = d;
  for (double& v : other.air_kg_s) v *= 1.02;
  const auto o = options_for(c.sheet);
  RunningEstimate ride(c.found(), kVe, o);
  ride.add(other);
  ride.replace(d);
  RunningEstimate fresh(c.found(), kVe, o);
  fresh.add(d);
  expect_same(ride.now(), fresh.now());
}

}  // namespace
}  // namespace fuelwright::advice::incremental_test
