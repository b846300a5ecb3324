// The valve boundary alone (kernel/orifice.h, scalar double) against the orifice law and the
// arriving wave, solved by halving.
#define FUELWRIGHT_LANES 1
#define FUELWRIGHT_KERNEL kernel_oracle_valve
#include <gtest/gtest.h>

#include <cmath>

#include "physics/breathing/kernel/orifice.h"

namespace fuelwright::physics {
namespace {

namespace k = kernel_oracle_valve;

constexpr double kPipeArea = 1.4e-3;  // m2

// Written anew from the gas law, without any ellipse: the orifice's flow function.
double psi(double ratio, double g) {
  const double critical = std::pow(2 / (g + 1), g / (g - 1));
  const double r = std::max(ratio, critical);
  return std::sqrt(2 * g / (g - 1) * std::max(0.0, std::pow(r, 2 / g) - std::pow(r, (g + 1) / g)));
}

template <class F>
double root(F f, double low, double high) {  // f(low) < 0 < f(high)
  for (int i = 0; i < 100; ++i) {
    const double middle = 0.5 * (low + high);
    (f(middle) < 0 ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

struct Place {
  double g;
  k::Gas end;  // u towards the reservoir
  k::Opposite r;
  double opening;
};

// Mass flow, reservoir to pipe. (breathing.5) with (breathing.6) or (breathing.7)
double exact(const Place& q) {
  const double z = std::sqrt(q.g * q.end.p * q.end.rho), p_w = q.end.p + z * q.end.u;
  const double cp = q.g / (q.g - 1) * k::kGas;
  if (p_w < q.r.p) {
    const auto pipe = [&](double p) {
      const double u = (p - p_w) / z, t = q.r.t - u * u / (2 * cp);
      return kPipeArea * p / (k::kGas * t) * u;
    };
    const auto hole = [&](double p) {
      return q.opening * q.r.p / std::sqrt(k::kGas * q.r.t) * psi(p / q.r.p, q.g);
    };
    const double coldest = p_w + z * std::sqrt(0.8 * cp * q.r.t);  // t = 0.6 of the reservoir's
    return pipe(root([&](double p) { return pipe(p) - hole(p); }, p_w, std::min(q.r.p, coldest)));
  }
  const double cc = q.g * q.end.p / q.end.rho;
  const auto pipe = [&](double p) {
    return kPipeArea * (q.end.rho + (p - q.end.p) / cc) * (p_w - p) / z;
  };
  const auto hole = [&](double p) {
    const double w = (p_w - p) / z, rho = q.end.rho + (p - q.end.p) / cc, t = p / (rho * k::kGas);
    const double mach2 = w * w / (q.g * k::kGas * t);
    const double stagnation = p * std::pow(1 + (q.g - 1) / 2 * mach2, q.g / (q.g - 1));
    if (stagnation < q.r.p) return 0.0;
    return q.opening * stagnation / std::sqrt(k::kGas * (t + w * w / (2 * cp))) *
           psi(q.r.p / stagnation, q.g);
  };
  return -pipe(root([&](double p) { return hole(p) - pipe(p); }, 0.02 * p_w, p_w));
}

k::Passing computed(const Place& q, int passes, double in = 0, double out = 0) {
  return k::pass(k::make_nozzle(q.g), q.end, kPipeArea, q.opening, q.opening, q.r, in, out, passes);
}

// A wide hole to much lower pressure: the face falls so far below the arriving wave that the
// linear characteristic has its largest flow, and the floor of 0.3 p_w holds. The next cell follows
// within a step or two.
bool drained(const Place& q, const k::Passing& p) {
  return p.p < 0.5 * (q.end.p + std::sqrt(q.g * q.end.p * q.end.rho) * q.end.u);
}

template <class F>
void everywhere(F check) {
  for (const double g : {1.39, 1.333})
    for (const double ratio :
         {0.15, 0.3, 0.5, 0.6, 0.75, 0.9, 0.97, 0.995, 1.005, 1.03, 1.1, 1.3, 1.7, 2.2, 4.0, 8.0})
      for (const double opening : {0.001, 0.01, 0.05, 0.15, 0.3, 0.5, 0.8, 1.0})
        for (const double u : {-60.0, 0.0, 60.0})
          for (const double t : {310.0, 1200.0}) {
            const double p = 1e5, there = ratio * p;
            const k::Gas end{p / (k::kGas * 330), u, p, 0.1};
            check(Place{g, end, {there, t, 0.7}, opening * kPipeArea});
          }
}

std::string words(const Place& q) {
  return "gamma " + std::to_string(q.g) + ", ratio " + std::to_string(q.r.p / q.end.p) + ", open " +
         std::to_string(q.opening / kPipeArea) + ", u " + std::to_string(q.end.u) + ", T " +
         std::to_string(q.r.t);
}

TEST(ValveBoundary, TheCorrectedEllipseIsTheOrificeLaw) {
  for (const double g : {1.333, 1.39, 1.4}) {
    const k::Nozzle n = k::make_nozzle(g);
    const double critical = std::pow(2 / (g + 1), g / (g - 1));
    double worst = 0;
    for (double ratio = critical; ratio < 0.9999; ratio += 1e-4) {
      const double x = (ratio - critical) / (1 - critical);
      const double here = n.choked * k::correction(n, x) * std::sqrt(1 - x * x);
      worst = std::max(worst, std::abs(here / psi(ratio, g) - 1));
    }
    EXPECT_LT(worst, 5e-7) << g;  // 3.7e-7; float carries 6e-8
    EXPECT_NEAR(n.choked, psi(0, g), 1e-12);
  }
}

// 0.95: 0.106553, 0.9: 0.146363, 0.8: 0.194187, choked: 0.237160 g/s per mm2 of air from 101,325 Pa
// and 298.15 K, flow coefficient 1 (computed from the law; R = 287.05). A pipe so wide that it does
// not move: the hole alone.
TEST(ValveBoundary, AHoleIntoAWidePipePassesWhatTheBenchWouldMeasure) {
  const double ratios[] = {0.95, 0.9, 0.8, 0.4}, flows[] = {0.106553, 0.146363, 0.194187, 0.237160};
  for (int i = 0; i < 4; ++i) {
    const double p = ratios[i] * 101'325, wide = 10;  // m2
    const k::Gas end{p / (k::kGas * 298.15), 0, p, 0};
    const k::Opposite r{101'325, 298.15, 0};
    const k::Passing q = k::pass(k::make_nozzle(1.4), end, wide, 1e-6, 1e-6, r, 0, 0, 12);
    EXPECT_NEAR(q.in * 1e3, flows[i], 2e-6) << ratios[i];
    const k::Gas up{101'325 / (k::kGas * 298.15), 0, 101'325, 0};
    const k::Passing back =
        k::pass(k::make_nozzle(1.4), up, wide, 1e-6, 1e-6, {p, 298.15, 0}, 0, 0, 12);
    EXPECT_NEAR(-back.in * 1e3, flows[i], 2e-6) << ratios[i];
  }
}

TEST(ValveBoundary, ManyPassesMeetTheWaveAndTheOrificeExactly) {
  double in = 0, out = 0, beyond = 0;
  int inward = 0, outward = 0, choked = 0;
  everywhere([&](const Place& q) {
    const double m = exact(q);
    const k::Passing p = computed(q, 60);
    const double off = std::abs(p.in / m - 1);
    (m > 0 ? inward : outward) += 1;
    if (m > 0 && p.p < 0.5 * q.r.p) ++choked;
    double& worst = m > 0 ? in : drained(q, p) ? beyond : out;
    worst = std::max(worst, off);
  });
  EXPECT_GT(inward, 300);
  EXPECT_GT(outward, 300);
  EXPECT_GT(choked, 100);
  EXPECT_LT(in, 1e-6);   // 3.7e-7: the polynomial
  EXPECT_LT(out, 7e-4);  // 5.6e-4: stagnation pressure to the second power of the Mach number
}

TEST(ValveBoundary, GasFlowsFromTheHigherPressureAndTheMoreTheWiderItIsOpen) {
  everywhere([&](const Place& q) {
    const double z = std::sqrt(q.g * q.end.p * q.end.rho), p_w = q.end.p + z * q.end.u;
    Place wider = q;
    wider.opening = 1.02 * q.opening;
    const k::Passing a = computed(q, 60), b = computed(wider, 60);
    EXPECT_EQ(a.in > 0, p_w < q.r.p) << words(q);
    if (!drained(q, b)) {
      EXPECT_GT(std::abs(b.in), std::abs(a.in)) << words(q);
    }
    EXPECT_EQ(a.y, a.in > 0 ? q.r.y : q.end.y);
  });
}

// The state moves by some tenths of a per cent from step to step, the opening by one.
TEST(ValveBoundary, TwoPassesFromTheLastStepAreAsGoodAsTwelve) {
  double worst = 0, far = 0;
  everywhere([&](const Place& q) {
    const k::Passing before = computed(q, 12);
    Place next = q;
    next.end.p *= 1.003;
    next.end.rho *= 1.002;
    next.end.u += 0.5;
    next.r.p *= 1.004;
    next.opening *= 1.01;
    const double in = before.in > 0 ? before.p : 0, out = before.in > 0 ? 0 : before.p;
    const double two = computed(next, 2, in, out).in, twelve = computed(next, 12, in, out).in;
    double& here = drained(q, before) ? far : worst;
    here = std::max(here, std::abs(two - twelve) / std::abs(twelve));
  });
  EXPECT_LT(worst, 5e-4);
  EXPECT_LT(far, 1e-3);  // drained
}

}  // namespace
}  // namespace fuelwright::physics
