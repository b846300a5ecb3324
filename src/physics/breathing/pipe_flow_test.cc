// The pipe scheme alone (kernel/pipe.h, scalar double): shock tubes, a smooth wave, and what it
// keeps.
#define FUELWRIGHT_LANES 1
#define FUELWRIGHT_KERNEL kernel_oracle_pipe_flow
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include "physics/breathing/exact_riemann_reference.h"
#include "physics/breathing/kernel/pipe.h"

namespace fuelwright::physics {
namespace {

namespace k = kernel_oracle_pipe_flow;

constexpr double kGamma = 1.4;
constexpr double kCfl = 0.9;

// One metre of pipe, without friction and heat, whose ends let everything through.
class Tube {
 public:
  Tube(int cells, const std::function<GasState(double)>& start)
      : rho_(n(cells)), u_(n(cells)), p_(n(cells)), y_(n(cells)), factor_(n(cells)) {
    pipe_.cells = cells;
    pipe_.gamma = kGamma;
    pipe_.dx = 1.0 / cells;
    pipe_.inverse_dx = cells;
    pipe_.area = 1;
    pipe_.friction = pipe_.heat = 0;
    pipe_.wall_k = 300;
    pipe_.heat_in = 0;
    pipe_.rho = rho_.data();
    pipe_.u = u_.data();
    pipe_.p = p_.data();
    pipe_.y = y_.data();
    pipe_.factor = factor_.data();
    for (int i = 0; i < cells; ++i) {
      const GasState s = start(middle(i));
      rho_[n(i)] = s.density;
      u_[n(i)] = s.velocity;
      p_[n(i)] = s.pressure;
      pipe_.fastest = std::max(
          i == 0 ? 0 : pipe_.fastest,
          (std::abs(s.velocity) + std::sqrt(kGamma * s.pressure / s.density)) * pipe_.inverse_dx);
    }
  }

  double middle(int i) const { return (i + 0.5) * pipe_.dx; }
  k::PipeState& pipe() { return pipe_; }

  void run(double until) {
    double t = 0;
    for (int step = 0; t < until - 1e-15; ++step) {
      // the first steps do not know yet how fast the shock will be (Toro 2009, section 6.3, memory)
      const double cfl = step < 5 ? 0.2 : kCfl;
      const double dt = std::min(cfl / pipe_.fastest, until - t);
      for (const int end : {0, 1}) {
        const k::Gas last = k::cell(pipe_, end == 0 ? 0 : pipe_.cells - 1);
        double speed = 0;
        pipe_.face[end] = last;
        pipe_.flux[end] = k::hllc(last, last, kGamma, &speed);
      }
      k::advance(pipe_, dt);
      t += dt;
    }
  }

  double density_error(const std::function<double(double)>& exact) const {
    double sum = 0;
    for (int i = 0; i < pipe_.cells; ++i) sum += std::abs(rho_[n(i)] - exact(middle(i)));
    return sum * pipe_.dx;
  }

 private:
  static std::size_t n(int i) { return static_cast<std::size_t>(i); }
  k::PipeState pipe_;
  std::vector<double> rho_, u_, p_, y_, factor_;
};

struct Shock {
  const char* name;
  GasState left, right;
  double until;
  double l1[3];  // of the density, N = 100, 200, 400: as measured, and no worse than that
};
// Inputs: Toro 2009, table 4.1 (from memory), test 1 with the gas at rest (Sod). The diaphragm
// stands in the middle. Sod's figures are those of an independent code of the same scheme
// (3.9, 2.2, 1.14e-3); the rest are this scheme's own. In tests 3 to 5 a contact moves with a
// density jump of 4 to 30, whose smearing over a few cells is nearly all of the error, so it falls
// with about N^0.7.
const Shock kShocks[] = {
    {"1", {1, 0, 1}, {0.125, 0, 0.1}, 0.2, {4.04e-3, 2.04e-3, 1.13e-3}},
    {"2", {1, -2, 0.4}, {1, 2, 0.4}, 0.15, {7.19e-3, 3.59e-3, 1.67e-3}},
    {"3", {1, 0, 1000}, {1, 0, 0.01}, 0.012, {0.1129, 0.0664, 0.0310}},
    {"4", {1, 0, 0.01}, {1, 0, 100}, 0.035, {0.1037, 0.0601, 0.0318}},
    {"5",
     {5.99924, 19.5975, 460.894},
     {5.99242, -6.19633, 46.0950},
     0.035,
     {0.3505, 0.1931, 0.1084}},
};
constexpr double kAsMeasured = 1.02;  // another compiler rounds differently, no more

TEST(PipeFlow, ShockTubesComeOutAsTheExactSolutionSays) {
  for (const Shock& s : kShocks) {
    const RiemannReference exact(s.left, s.right, kGamma);
    int row = 0;
    for (const int cells : {100, 200, 400}) {
      Tube tube(cells, [&](double x) { return x < 0.5 ? s.left : s.right; });
      tube.run(s.until);
      const double l1 =
          tube.density_error([&](double x) { return exact.at((x - 0.5) / s.until).density; });
      EXPECT_LT(l1, kAsMeasured * s.l1[row]) << "tube " << s.name << ", " << cells << " cells";
      ++row;
    }
  }
}

// A wave that runs to the right in gas at rest: u + c is constant along dx/dt = u + c, and c and
// the density follow from u alone (Riemann invariants). Before it breaks the exact solution is one
// root.
struct SimpleWave {
  static constexpr double kHeight = 0.1, kWidth = 0.08, kFrom = 0.3;
  static double velocity(double x) {
    return kHeight * std::exp(-std::pow((x - kFrom) / kWidth, 2));
  }
  static GasState of(double u) {
    const double c = 1 + (kGamma - 1) / 2 * u, rho = std::pow(c, 2 / (kGamma - 1));
    return {rho, u, std::pow(rho, kGamma) / kGamma};
  }
  static GasState at(double x, double t) {
    double low = x - 1.3 * t, high = x - t;  // where the characteristic came from
    for (int i = 0; i < 80; ++i) {
      const double from = 0.5 * (low + high);
      (from + (1 + (kGamma + 1) / 2 * velocity(from)) * t < x ? low : high) = from;
    }
    return of(velocity(0.5 * (low + high)));
  }
};

TEST(PipeFlow, ASmoothWaveConvergesWithTheSquareOfTheCell) {
  constexpr double kUntil = 0.3;  // breaks at 0.78
  std::vector<double> error;
  for (const int cells : {100, 200, 400, 800}) {
    Tube tube(cells, [](double x) { return SimpleWave::of(SimpleWave::velocity(x)); });
    tube.run(kUntil);
    error.push_back(tube.density_error([](double x) { return SimpleWave::at(x, kUntil).density; }));
  }
  // 2 less what the limiter cuts off at the crest.
  for (std::size_t i = 1; i < error.size(); ++i)
    EXPECT_GT(std::log2(error[i - 1] / error[i]), 1.8) << i;
}

// Mass, momentum (less the ends' pressure, which is equal) and energy of a tube that no wave has
// left.
TEST(PipeFlow, NothingIsLostInsideAPipe) {
  const Shock& s = kShocks[0];
  Tube tube(200, [&](double x) { return x < 0.5 ? s.left : s.right; });
  const auto sum = [&] {
    double mass = 0, energy = 0;
    const k::PipeState& p = tube.pipe();
    for (int i = 0; i < p.cells; ++i) {
      mass += p.rho[i];
      energy += p.p[i] / (kGamma - 1) + 0.5 * p.rho[i] * p.u[i] * p.u[i];
    }
    return std::pair{mass * p.dx, energy * p.dx};
  };
  const auto before = sum();
  tube.run(s.until);
  const auto after = sum();
  EXPECT_NEAR(after.first, before.first, 1e-13);
  EXPECT_NEAR(after.second, before.second, 1e-13);
}

// du/dt = -(2 f/D) u |u| (breathing.4): u = u0/(1 + 2 f/D u0 t) in a pipe that moves as a whole;
// what the flow loses stays in it as heat.
TEST(PipeFlow, FrictionSlowsTheGasAndWarmsIt) {
  constexpr double kPerMetre = 2 * 0.009 / 0.04, kSpeed = 60, kUntil = 0.02;
  Tube tube(50, [](double) { return GasState{1.2, kSpeed, 1e5}; });
  tube.pipe().friction = kPerMetre;
  const double energy = 1e5 / (kGamma - 1) + 0.5 * 1.2 * kSpeed * kSpeed;
  tube.run(kUntil);
  const k::Gas end = k::cell(tube.pipe(), 25);
  EXPECT_NEAR(end.u, kSpeed / (1 + kPerMetre * kSpeed * kUntil), 1e-4 * kSpeed);
  EXPECT_NEAR(end.p / (kGamma - 1) + 0.5 * end.rho * end.u * end.u, energy, 1e-9 * energy);
}

// Gas at rest warms as T_w - T = (T_w - T_0) exp(-k (2 f/D) gamma 5 m/s t) at constant volume
// (breathing.3).
TEST(PipeFlow, AWarmWallWarmsGasAtRest) {
  constexpr double kPerMetre = 0.45, kUntil = 0.1, kStart = 300, kWall = 360;
  const double p = 1.2 * k::kGas * kStart;
  Tube tube(20, [&](double) { return GasState{1.2, 0, p}; });
  tube.pipe().heat = kPerMetre;
  tube.pipe().wall_k = kWall;
  for (int i = 0; i < 20; ++i) tube.pipe().factor[i] = 1.3;
  tube.run(kUntil);
  const k::Gas end = k::cell(tube.pipe(), 10);
  const double t = end.p / (k::kGas * end.rho);
  const double expected =
      kWall - (kWall - kStart) * std::exp(-1.3 * kPerMetre * kGamma * k::kStill * kUntil);
  EXPECT_NEAR(t, expected, 0.01);  // one explicit step is 0.1 K
  EXPECT_GT(t, 310);
}

}  // namespace
}  // namespace fuelwright::physics
