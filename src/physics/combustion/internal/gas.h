/// The two gases in the cylinder as the closed cycle needs them: fresh charge and burnt gas.
///
/// Burnt gas: energy and gas constant of the equilibrium composition on a grid of temperature and
/// ln p (Hermite in temperature, linear in ln p), frozen below 1700 K. Fresh charge: air, fuel
/// vapour and frozen burnt gas. All energies count from the elements at 298.15 K, so that burning
/// needs no heat-release term: mass only changes from one zone to the other.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/combustion/internal/species.h"

namespace fuelwright::physics::gas {

/// Energy [J/kg], gas constant [J/(kg K)] and their slopes.
struct BurntState {
  double u, u_t, u_lnp, r, r_t, r_lnp;
};

class BurntTable {
 public:
  static constexpr int kTemperatures = 37;  // 300..3900 K
  static constexpr int kPressures = 11;     // 0.25..256 bar
  static constexpr double kFirst_k = 300, kStep_k = 100;
  static constexpr double kFirst_pa = 25000;
  static constexpr double kStep_lnp = 0.6931471805599453;

  struct Node {
    double u, u_t, r, r_t;
  };
  Node& node(int i, int k) { return nodes_[k * kTemperatures + i]; }
  const Node& node(int i, int k) const { return nodes_[k * kTemperatures + i]; }

  /// Beyond the grid: straight on from its edge.
  BurntState at(double t_k, double lnp) const {
    const double x = (t_k - kFirst_k) * (1 / kStep_k);
    const double y = (lnp - log_first_pa_) * (1 / kStep_lnp);
    const int i = std::clamp(static_cast<int>(x), 0, kTemperatures - 2);
    const int k = std::clamp(static_cast<int>(y), 0, kPressures - 2);
    const double s = x - i, w = y - k;
    const Node* low = &nodes_[k * kTemperatures + i];
    const Node* high = low + kTemperatures;
    const double s2 = s * s, s3 = s2 * s;
    const double h1 = 3 * s2 - 2 * s3, h0 = 1 - h1, g0 = (s - 2 * s2 + s3) * kStep_k,
                 g1 = (s3 - s2) * kStep_k;
    const double d1 = 6 * (s - s2) * (1 / kStep_k), e0 = 1 - 4 * s + 3 * s2, e1 = 3 * s2 - 2 * s;
    const auto value = [&](double a, double at, double b, double bt) {
      return a * h0 + b * h1 + at * g0 + bt * g1;
    };
    const auto slope = [&](double a, double at, double b, double bt) {
      return (b - a) * d1 + at * e0 + bt * e1;
    };
    const double ul = value(low[0].u, low[0].u_t, low[1].u, low[1].u_t);
    const double uh = value(high[0].u, high[0].u_t, high[1].u, high[1].u_t);
    const double rl = value(low[0].r, low[0].r_t, low[1].r, low[1].r_t);
    const double rh = value(high[0].r, high[0].r_t, high[1].r, high[1].r_t);
    const double utl = slope(low[0].u, low[0].u_t, low[1].u, low[1].u_t);
    const double uth = slope(high[0].u, high[0].u_t, high[1].u, high[1].u_t);
    const double rtl = slope(low[0].r, low[0].r_t, low[1].r, low[1].r_t);
    const double rth = slope(high[0].r, high[0].r_t, high[1].r, high[1].r_t);
    return {ul + w * (uh - ul), utl + w * (uth - utl), (uh - ul) * (1 / kStep_lnp),
            rl + w * (rh - rl), rtl + w * (rth - rtl), (rh - rl) * (1 / kStep_lnp)};
  }

 private:
  std::array<Node, kTemperatures * kPressures> nodes_{};
  double log_first_pa_ = std::log(kFirst_pa);
};

/// Energy of a gas of fixed composition at 200..1900 K.
class FrozenTable {
 public:
  static constexpr int kNodes = 18;
  static constexpr double kFirst_k = 200, kStep_k = 100;
  struct State {
    double u, cv;
  };
  State at(double t_k) const {
    const double x = (t_k - kFirst_k) * (1 / kStep_k);
    const int i = std::clamp(static_cast<int>(x), 0, kNodes - 2);
    const double s = x - i, s2 = s * s, s3 = s2 * s, h1 = 3 * s2 - 2 * s3;
    const double a = u[i], b = u[i + 1], at = cv[i] * kStep_k, bt = cv[i + 1] * kStep_k;
    return {a * (1 - h1) + b * h1 + at * (s - 2 * s2 + s3) + bt * (s3 - s2),
            ((b - a) * 6 * (s - s2) + at * (1 - 4 * s + 3 * s2) + bt * (3 * s2 - 2 * s)) / kStep_k};
  }
  std::array<double, kNodes> u{};   ///< [J/kg]
  std::array<double, kNodes> cv{};  ///< [J/(kg K)]
  double r = 0;                     ///< gas constant [J/(kg K)]
};

/// Everything that depends on fuel and lambda alone.
struct GasTables {
  BurntTable burnt;
  FrozenTable fresh;          ///< air and fuel vapour
  FrozenTable frozen;         ///< burnt gas at rest, as it stays behind
  double fuel_per_fresh = 0;  ///< mass of fuel per mass of air and fuel [-]
  double heating_value = 0;   ///< [J/kg fuel]
  /// Chemical energy left in the cooled burnt gas (CO, H2) [J/kg burnt gas].
  double left = 0;
};

/// What the integrator sees: a charge with its residual share mixed in.
struct ChargeGas {
  ChargeGas(const GasTables& tables, double residual) : burnt_table(tables.burnt) {
    for (int i = 0; i < FrozenTable::kNodes; ++i) {
      unburnt_table.u[i] = (1 - residual) * tables.fresh.u[i] + residual * tables.frozen.u[i];
      unburnt_table.cv[i] = (1 - residual) * tables.fresh.cv[i] + residual * tables.frozen.cv[i];
    }
    unburnt_table.r = (1 - residual) * tables.fresh.r + residual * tables.frozen.r;
  }
  FrozenTable::State unburnt(double t_k) const { return unburnt_table.at(t_k); }
  double unburnt_r() const { return unburnt_table.r; }
  BurntState burnt(double t_k, double lnp) const { return burnt_table.at(t_k, lnp); }

  const BurntTable& burnt_table;
  FrozenTable unburnt_table;
};

}  // namespace fuelwright::physics::gas
