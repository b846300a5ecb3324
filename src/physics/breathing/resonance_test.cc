// Pipes with their ends, as the engine joins them (kernel/joints.h, scalar double): do they ring
// at the frequencies of acoustics?
#define FUELWRIGHT_LANES 1
#define FUELWRIGHT_KERNEL kernel_oracle_resonance
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <memory>
#include <numbers>
#include <vector>

#include "physics/breathing/kernel/engine.h"

namespace fuelwright::physics {
namespace {

namespace k = kernel_oracle_resonance;

constexpr double kPi = std::numbers::pi;
constexpr double kGamma = 1.4, kPressure = 1e5, kTemperature = 298.15;
constexpr double kSound = 346.147;  // air at 25 degC [m/s], gamma 1.4, R 287.05: computed
constexpr double kSmall = 1e-3;     // of the pressure: losses at the mouth grow with its square

void fill(kernel::Lanes& l, double v) {
  for (double& x : l) x = v;
}

// A pipe from the open air to a shut valve (no volume) or to a chamber.
class Whistle {
 public:
  Whistle(double length, double area, double volume, int cells) : closed_(volume <= 0) {
    net_->lanes = 1;
    net_->rpm = 1000;
    net_->cfl = 0.9;
    net_->capture_deg = 600;
    fill(net_->target_map_pa, kPressure);
    fill(net_->throttle_open_m2, 1);
    fill(net_->burn_fade, 1);
    net_->valves = {shut_.data(), shut_.data(), shut_.data(), shut_.data()};
    net_->pipes = 1;
    kernel::Pipe& p = net_->pipe[0];
    p.cells = cells;
    p.gamma = kGamma;
    fill(p.length_m, length);
    fill(p.area_m2, area);
    fill(p.start_pa, kPressure);
    fill(p.start_k, kTemperature);
    p.valve_end = -1;
    reservoir(kernel::Kind::outside, 1);
    reservoir(closed_ ? kernel::Kind::cylinder : kernel::Kind::volume, closed_ ? 1 : volume);
    net_->cylinders = 1;
    fill(net_->cylinder[0].bore_m, 0.1);
    fill(net_->cylinder[0].crank_m, 0.045);
    fill(net_->cylinder[0].rod_m, 0.15);
    fill(net_->cylinder[0].clearance_m3, 1e-4);
    net_->joints = 2;
    net_->joint[0] = {0, 0, 0, 0, {}, {}, false, 0, {}};
    net_->joint[1] = {0, 1, 1, closed_ ? 1 : 0, {}, {}, false, 0, {}};
    for (int j = 0; j < 2; ++j) {
      fill(net_->joint[j].in_m2, area);
      fill(net_->joint[j].out_m2, area);
    }
    cells_.resize(static_cast<std::size_t>(cells) * 5);
    k::set_up(*m_, *net_, reinterpret_cast<char*>(cells_.data()), false);
  }

  // Frequency of the pressure at the inner end, from the first to the last zero it passes upwards.
  double ring(int periods) {
    push();
    double t = 0, last = 0, first_zero = -1, last_zero = 0;
    int zeros = 0;
    while (zeros <= periods && t < 1) {
      const double dt = 0.9 / m_->pipe[0].fastest;
      for (int j = 0; j < 2; ++j) k::join(*m_, j, 0.5, dt);
      k::advance(m_->pipe[0], dt);
      for (int r = 0; r < 2; ++r)
        k::settle_reservoir(m_->reservoir[r], net_->reservoir[r].kind, dt);
      t += dt;
      const double now =
          (closed_ ? m_->pipe[0].p[net_->pipe[0].cells - 1] : m_->reservoir[1].p) - kPressure;
      if (last < 0 && now >= 0) {
        last_zero = t - dt * now / (now - last);
        if (first_zero < 0) first_zero = last_zero;
        ++zeros;
      }
      last = now;
    }
    return (zeros - 1) / (last_zero - first_zero);
  }

 private:
  void reservoir(kernel::Kind kind, double volume) {
    kernel::Reservoir& r = net_->reservoir[net_->reservoirs++];
    r.kind = kind;
    r.gamma = kGamma;
    fill(r.volume_m3, volume);
    fill(r.pressure_pa, kPressure);
    fill(r.temperature_k, kTemperature);
  }
  // Raises the pressure inside a little, as the lowest mode has it.
  void push() {
    k::PipeState& p = m_->pipe[0];
    for (int i = 0; i < p.cells; ++i) {
      const double x = (i + 0.5) / p.cells;
      const double up = 1 + kSmall * (closed_ ? std::sin(kPi / 2 * x) : x);
      p.p[i] *= up;
      p.rho[i] *= std::pow(up, 1 / kGamma);
    }
    if (closed_) return;
    k::ReservoirState& r = m_->reservoir[1];
    r.p *= 1 + kSmall;
    r.energy *= 1 + kSmall;
    r.mass *= std::pow(1 + kSmall, 1 / kGamma);
    r.t = r.p * r.volume / (k::kGas * r.mass);
  }

  bool closed_;
  std::array<float, 721> shut_{};
  std::unique_ptr<kernel::Network> net_ = std::make_unique<kernel::Network>();
  std::unique_ptr<k::Machine> m_ = std::make_unique<k::Machine>();
  std::vector<double> cells_;
};

// c/(4 L) = 346.147/(4 * 0.35) = 247.25 Hz.
TEST(Resonance, AShutPipeRingsAtAQuarterWave) {
  for (const int cells : {12, 35}) {  // 30 mm as in a map, 10 mm
    const double f = Whistle(0.35, 1.2e-3, 0, cells).ring(10);
    EXPECT_NEAR(f / 247.25, 1, 2e-4) << cells;  // -1.0e-4 and -0.2e-4
  }
}

// A lumped neck and volume would ring at c/(2 pi) sqrt(A/(L V)) = 69.685 Hz. The air in the neck is
// springy too: k L tan(k L) = A L/V, 2.3 % lower; that is what one-dimensional flow must give.
TEST(Resonance, AChamberWithANeckRingsAtHelmholtzsFrequency) {
  constexpr double kArea = 1.2e-3, kLength = 0.30, kVolume = 2.5e-3;
  const double lumped = kSound / (2 * kPi) * std::sqrt(kArea / (kLength * kVolume));
  EXPECT_NEAR(lumped, 69.685, 0.001);
  double low = 0, high = 1.5;
  for (int i = 0; i < 100; ++i) {
    const double kl = 0.5 * (low + high);
    (kl * std::tan(kl) < kArea * kLength / kVolume ? low : high) = kl;
  }
  const double exact = low * kSound / (2 * kPi * kLength);
  for (const int cells : {10, 30}) {
    const double f = Whistle(kLength, kArea, kVolume, cells).ring(6);
    EXPECT_NEAR(f / exact, 1, 2e-4) << cells;  // 0.5e-4
    EXPECT_NEAR(f / lumped, 1, 0.03) << cells;
  }
}

}  // namespace
}  // namespace fuelwright::physics
