// The plenum's swing in the one-cylinder form (kernel/plenum.h, scalar double) against the plenum,
// throttle and duct integrated in time with all their cylinders.
#define FUELWRIGHT_LANES 1
#define FUELWRIGHT_KERNEL kernel_oracle_plenum
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

#include "physics/breathing/kernel/plenum.h"

namespace fuelwright::physics {
namespace {

namespace k = kernel_oracle_plenum;

constexpr double kPi = std::numbers::pi;
constexpr double kGamma = 1.39, kTemperature = 310, kMap = 80e3, kBefore = 1e5;
constexpr int kCylinders = 4, kSteps = 7200;
constexpr double kRpm = 3000, kCycle_s = 120 / kRpm;

const k::PlenumParts kParts{0.002, 0.4 / 2.4e-3, 2e-3, kBefore, kMap, kTemperature};

// Into the plenum from one runner [kg/s]: drawn from 350 to 560 degrees, a little pushed back.
double runner(double deg) {
  deg = std::fmod(deg + 720, 720.0);
  if (deg < 350 || deg > 590) return 0;
  if (deg > 560) return 0.004 * std::sin(kPi * (deg - 560) / 30);
  return -0.03 * std::pow(std::sin(kPi * (deg - 350) / 210), 2);
}
double mean_runner() {
  double sum = 0;
  for (int i = 0; i < kSteps; ++i) sum -= runner(i * 720.0 / kSteps) / kSteps;
  return sum;
}

// -dm/dp of the throttle by differences of the orifice law itself.
double throttle_slope(double mean_flow) {
  const double up = k::exact_flow((kMap + 50) / kBefore, kGamma),
               down = k::exact_flow((kMap - 50) / kBefore, kGamma);
  return mean_flow * (down - up) / 100 / k::exact_flow(kMap / kBefore, kGamma);
}

// Pressure above the mean over one settled cycle: every cylinder draws, the volume fills through a
// duct with inertia and a throttle that gives way linearly. Small steps, 40 cycles.
std::vector<double> in_time() {
  const double slope = throttle_slope(kCylinders * mean_runner());
  const double volume = kParts.volume_m3 / (kGamma * k::kGas * kTemperature);
  const double dt = kCycle_s / kSteps;
  double p = 0, extra = 0;  // extra: of the mean flow through the throttle
  std::vector<double> out(kSteps);
  for (int i = 0; i < 40 * kSteps; ++i) {
    double q = kCylinders * mean_runner();
    for (int j = 0; j < kCylinders; ++j)
      q += runner((i % kSteps) * 720.0 / kSteps - 720.0 * j / kCylinders);
    extra += dt * (-p - extra / slope) / kParts.inertance;
    p += dt * (q + extra) / volume;
    out[static_cast<std::size_t>(i % kSteps)] = p;
  }
  return out;
}

k::PlenumSwing learned(int cycles) {
  k::PlenumSwing s;
  k::still(s);
  const k::Nozzle n = k::make_nozzle(kGamma);
  for (int cycle = 0; cycle < cycles; ++cycle) {
    for (int i = 0; i < kSteps; ++i) {
      const double deg = i * 720.0 / kSteps;
      k::swing(s, kCylinders, deg, runner(deg) * kCycle_s / kSteps);
    }
    k::turn_over(s, n, kCylinders, kCycle_s, 1, mean_runner(), &kParts);
  }
  return s;
}

// (breathing.14): harmonics 4, 8 and 12 of the cycle.
TEST(PlenumSwing, OneRunnerStandsForAllCylindersOnThePlenum) {
  const std::vector<double> truth = in_time();
  const k::PlenumSwing s = learned(30);
  double size = 0;
  for (int h = 0; h < k::kHarmonics; ++h) {
    double cosine = 0, sine = 0;
    for (int i = 0; i < kSteps; ++i) {
      const double a = 2 * kPi * kCylinders * (h + 1) * i / kSteps;
      cosine += 2.0 / kSteps * truth[static_cast<std::size_t>(i)] * std::cos(a);
      sine += 2.0 / kSteps * truth[static_cast<std::size_t>(i)] * std::sin(a);
    }
    if (h == 0) size = std::hypot(cosine, sine);
    // the ellipse's slope for the law's, and steps of 0.1 degree
    EXPECT_NEAR(s.cosine[h], cosine, 0.01 * size) << h;
    EXPECT_NEAR(s.sine[h], sine, 0.01 * size) << h;
  }
  EXPECT_GT(size, 300);  // Pa: there is something to be seen
}

// The other harmonics of a cycle cancel among evenly phased cylinders.
TEST(PlenumSwing, EvenlyPhasedCylindersLeaveOnlyTheirMultiples) {
  const std::vector<double> truth = in_time();
  for (const int h : {1, 2, 3, 5, 6, 7}) {
    double cosine = 0;
    for (int i = 0; i < kSteps; ++i)
      cosine += 2.0 / kSteps * truth[static_cast<std::size_t>(i)] *
                std::cos(2 * kPi * h * static_cast<double>(i) / kSteps);
    EXPECT_NEAR(cosine, 0, 1) << h;
  }
}

TEST(PlenumSwing, TheFirstStepsAreCautious) {
  const k::PlenumSwing first = learned(1), last = learned(30);
  EXPECT_LT(std::hypot(first.cosine[0], first.sine[0]),
            0.5 * std::hypot(last.cosine[0], last.sine[0]));
  EXPECT_LE(std::hypot(first.cosine[0], first.sine[0]), 0.06 * kMap + 1e-9);
}

// Shut, only the volume answers: 1/(i w V/(gamma R T)) .. and a volume without end does not swing.
TEST(PlenumSwing, ALargePlenumHardlySwings) {
  const k::Nozzle n = k::make_nozzle(kGamma);
  k::PlenumParts large = kParts;
  large.volume_m3 *= 100;
  const double w = 2 * kPi * kCylinders / kCycle_s;
  const double here = std::sqrt(k::size2(k::admittance(kParts, n, w, 0.03)));
  EXPECT_GT(std::sqrt(k::size2(k::admittance(large, n, w, 0.03))), 50 * here);
  k::PlenumParts choked = kParts;
  choked.map_pa = 30e3;
  const k::Complex y = k::admittance(choked, n, w, 0.03);
  EXPECT_NEAR(y.im * kGamma * k::kGas * kTemperature / (w * kParts.volume_m3), 1, 1e-6);
  EXPECT_NEAR(y.re, 0, 1e-9);
}

}  // namespace
}  // namespace fuelwright::physics
