#include "advice/map_estimate/dilution.h"

#include <algorithm>
#include <cmath>

#include "car/build/derived.h"

namespace fuelwright::advice {
namespace {

// Where the places stand; the last of each axis adds nothing any more.
constexpr std::array kSpeeds_rpm{700.0, 900.0, 1150.0, 1500.0, 2000.0, 3000.0};
constexpr std::array kLoads_pa{35e3, 48e3, 62e3, 80e3, 100e3};
constexpr std::size_t kRows = kLoads_pa.size() - 1, kColumns = kSpeeds_rpm.size() - 1;
static_assert(kRows * kColumns == kLeans);

constexpr double kOverlapPart = 0.85, kClearancePart = 0.60;
constexpr double kHalf = 0.38, kHalf_sd = 0.06, kWidth = 0.03;
constexpr double kSeen = 0.6;
constexpr double kSpoilt = 0.02;  // of the size of a steady reading's noise
constexpr double kAlike = 0.5;   // of two places, for y_50 is the same for all
constexpr double kMostPressure = 0.98;
constexpr double kSlowest_rpm = 400;

// deg/m
double overlap_factor(const car::Sheet& s) {
  const double overlap = std::max(car::overlap(s.cam.intake_advertised.value,
                                               s.cam.exhaust_advertised.value,
                                               s.cam.lobe_separation.value)
                                      .degrees(),
                                  0.0);
  const double bore = s.engine.bore.value.in(mm);
  return 1.45 / bore * (107 + 7.8 * overlap + overlap * overlap) * s.cam.intake_lift.value.in(mm) *
         s.heads.intake_valve.value.in(mm) / (bore * bore);
}

double residual(double factor, double compression, double rpm, double pressure) {
  const double p = std::min(pressure, kMostPressure);
  return kOverlapPart * 1.266 * factor / (rpm / 60) * std::pow(p, -0.87) * std::sqrt(1 - p) +
         kClearancePart * 0.632 * std::pow(p, -0.74) / compression;
}

double lean(double y, double half) {
  return -std::log1p(-kSeen / (1 + std::exp(-(y - half) / kWidth)));
}

template <std::size_t N>
std::pair<std::size_t, double> between(const std::array<double, N>& axis, double x) {
  if (x <= axis.front()) return {0, 0.0};
  if (x >= axis.back()) return {N - 2, 1.0};
  const auto above = std::upper_bound(axis.begin(), axis.end(), x);
  const auto i = static_cast<std::size_t>(above - axis.begin()) - 1;
  return {i, (x - axis[i]) / (axis[i + 1] - axis[i])};
}

}  // namespace

Dilution Dilution::of(const car::Sheet& sheet) {
  return {.factor = overlap_factor(sheet),
          .compression = sheet.engine.compression.value,
          .ambient_pa = sheet.place.pressure.si(),
          .rough = std::clamp((car::overlap_050(sheet).degrees() + 15) / 10, 0.0, 1.0)};
}

Dilution::Lean Dilution::at(double rpm, double map_pa) const {
  if (rough == 0) return {};
  // Gauss and Hermite, three points.
  constexpr std::array<std::pair<double, double>, 3> kPoints{
      {{-1.7320508, 1.0 / 6}, {0.0, 2.0 / 3}, {1.7320508, 1.0 / 6}}};
  const double y = residual(factor, compression, std::max(rpm, kSlowest_rpm), map_pa / ambient_pa);
  double mean = 0, square = 0;
  for (const auto& [z, weight] : kPoints) {
    const double here = rough * lean(y, kHalf + z * kHalf_sd);
    mean += weight * here;
    square += weight * here * here;
  }
  return {mean, std::sqrt(std::max(square - mean * mean, 0.0))};
}

bool Dilution::spoils(double rpm, double map_pa) const {
  const Lean lean = at(rpm, map_pa);
  return lean.mean + lean.sd > kSpoilt;
}

Eigen::Matrix<double, kLeans, kLeans> Dilution::covariance() {
  Eigen::Matrix<double, kLeans, kLeans> K;
  K.setConstant(kAlike);
  K.diagonal().setOnes();
  return K;
}

std::array<std::pair<int, double>, 4> Dilution::places(double rpm, double map_pa) {
  const auto [ix, s] = between(kSpeeds_rpm, rpm);
  const auto [iy, t] = between(kLoads_pa, map_pa);
  std::array<std::pair<int, double>, 4> out{};
  std::size_t n = 0;
  for (std::size_t dy = 0; dy < 2; ++dy) {
    for (std::size_t dx = 0; dx < 2; ++dx) {
      if (ix + dx >= kColumns || iy + dy >= kRows) continue;
      const double share = (dx ? s : 1 - s) * (dy ? t : 1 - t);
      out[n++] = {static_cast<int>((iy + dy) * kColumns + ix + dx), share};
    }
  }
  return out;
}

}  // namespace fuelwright::advice
