#include "physics/ensemble/what_to_measure.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "base/contract.h"
#include "car/build/derived.h"

namespace fuelwright::physics {
namespace {

struct Places {
  Eigen::ArrayXd rpm, kpa;
  explicit Places(const MapPlaces& places) {
    const auto nx = static_cast<Eigen::Index>(places.speeds.size());
    const auto n = nx * static_cast<Eigen::Index>(places.pressures.size());
    rpm.resize(n);
    kpa.resize(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      rpm[i] = places.speeds[static_cast<std::size_t>(i % nx)].rpm;
      kpa[i] = places.pressures[static_cast<std::size_t>(i / nx)].from_zero.in(fuelwright::kPa);
    }
  }
  // A bell about a place, at least as wide as the nodes stand apart would need.
  Eigen::VectorXd bell(double at_rpm, double ln_width, double at_kpa, double kpa_width) const {
    const Eigen::ArrayXd x = (rpm / at_rpm).log() / ln_width;
    const Eigen::ArrayXd y = (kpa - at_kpa) / kpa_width;
    return (-0.5 * (x.square() + y.square())).exp();
  }
};

// Stock cams idle at 30 to 40 kPa, big street cams at 55 to 75 (common practice, no source).
double idle_kpa(const car::Sheet& sheet) {
  constexpr double kStockOverlap_deg = -10, kPerDegree = 0.95, kStock_kpa = 36;
  const double more = std::max(0.0, car::overlap_050(sheet).degrees() - kStockOverlap_deg);
  return std::min(kStock_kpa + kPerDegree * more, 75.0);
}

// Variance of the members at a node, by node.
Eigen::VectorXd variance_of_members(const Ensemble& ensemble) {
  return ensemble.deviations().colwise().squaredNorm().transpose() /
         static_cast<double>(ensemble.members() - 1);
}

// J^2, [part][node], shrunk where it would explain more than there is.
Eigen::MatrixXd explained(const Ensemble& ensemble) {
  Eigen::MatrixXd J2 = ensemble.sensitivities().array().square();
  const Eigen::VectorXd share = explained_by_steps(ensemble);
  for (Eigen::Index i = 0; i < J2.cols(); ++i)
    if (share[i] > 1) J2.col(i) /= share[i];
  return J2;
}

double half_width(const Eigen::VectorXd& variance, const Eigen::VectorXd& weights) {
  return k95 * std::sqrt(std::max(0.0, variance.dot(weights) / weights.sum()));
}

struct Measurement {
  std::vector<std::string> parts;
  Eigen::VectorXd takes_off;  ///< per node
};

std::map<std::string, Measurement> measurements(const Ensemble& ensemble) {
  std::map<std::string, Measurement> out;
  const Eigen::MatrixXd J2 = explained(ensemble);
  for (Eigen::Index k = 0; k < J2.rows(); ++k) {
    const Part& part = ensemble.drawn().parts[static_cast<std::size_t>(k)];
    if (part.measuring.empty()) continue;
    Measurement& m = out[part.measuring];
    if (m.takes_off.size() == 0) m.takes_off = Eigen::VectorXd::Zero(J2.cols());
    m.parts.push_back(part.name);
    m.takes_off += (1 - part.leaves * part.leaves) * J2.row(k).transpose();  // (ensemble.9)
  }
  return out;
}

}  // namespace

std::vector<Driving> usual_driving(const Ensemble& ensemble, const car::Sheet& sheet) {
  const Places at(ensemble.drawn().places);
  const double ambient = ensemble.drawn().places.surroundings.ambient.from_zero.in(kPa);
  const double limit = sheet.wishes.rev_limit.value.rpm;
  constexpr double kLowest_rpm = 1500;  // full throttle is not used below it
  // Full throttle: within a tenth of ambient, every speed alike.
  Eigen::VectorXd full = (-0.5 * ((at.kpa - ambient).min(0.0) / (0.05 * ambient)).square()).exp();
  full = (at.rpm >= kLowest_rpm && at.rpm <= limit).select(full.array(), 0.0);
  return {{"idle", at.bell(sheet.wishes.idle_speed.value.rpm, 0.2, idle_kpa(sheet), 6)},
          {"cruise", at.bell(2300, 0.3, 48, 12)},
          {"full throttle", std::move(full)}};
}

std::string Worth::says() const {
  // Whole per cents where they tell the difference.
  const int decimals = std::round(100 * before) - std::round(100 * after) >= 1 ? 0 : 1;
  return fmt::format("{}: {} from \xC2\xB1{:.{}f} % to \xC2\xB1{:.{}f} %{}", measuring, driving,
                     100 * before, decimals, 100 * after, decimals,
                     predicted ? "" : " where it can be predicted at all");
}

Eigen::VectorXd explained_by_steps(const Ensemble& ensemble) {
  const Eigen::VectorXd steps = ensemble.sensitivities().colwise().squaredNorm().transpose();
  const Eigen::VectorXd members = variance_of_members(ensemble);
  if (ensemble.sensitivities().rows() == 0) return Eigen::VectorXd::Zero(ensemble.nodes());
  return (members.array() > 0).select(steps.array() / members.array(), 0.0);
}

std::vector<Worth> what_to_measure(const Ensemble& ensemble, const std::vector<Driving>& driving) {
  constexpr double kWorthALine = 0.01;  // of the half-width
  std::vector<Worth> out;
  if (ensemble.sensitivities().rows() == 0) return out;
  const Eigen::VectorXd variance = ensemble.covariance().diagonal();
  const auto all = measurements(ensemble);
  for (const Driving& kind : driving) {
    EXPECTS(kind.weights.size() == ensemble.nodes() && (kind.weights.array() >= 0).all());
    Eigen::VectorXd weights = kind.weights;
    for (Eigen::Index i = 0; i < weights.size(); ++i)
      if (!ensemble.known(i)) weights[i] = 0;
    if (!(weights.sum() > 0)) continue;
    const bool predicted = weights.sum() > 0.5 * kind.weights.sum();
    const auto first = static_cast<std::ptrdiff_t>(out.size());
    const double before = half_width(variance, weights);
    for (const auto& [doing, measurement] : all) {
      const double after = half_width(variance - measurement.takes_off, weights);
      if (after > (1 - kWorthALine) * before) continue;
      out.push_back({kind.name, doing, measurement.parts, before, after, predicted});
    }
    std::stable_sort(out.begin() + first, out.end(),
                     [](const Worth& a, const Worth& b) { return a.after < b.after; });
  }
  return out;
}

}  // namespace fuelwright::physics
