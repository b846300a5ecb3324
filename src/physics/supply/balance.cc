#include "physics/supply/balance.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/contract.h"
#include "physics/supply/vapour.h"

namespace fuelwright::physics::supply {
namespace {

// The root of a function that rises from below or at 0 at `low` to above 0 at `high`: regula falsi
// that halves a side which stays (Illinois). 60 steps end it in any case.
template <class F>
double rising_root(double low, double high, double exact, const F& f) {
  double f_low = f(low), f_high = f(high);
  if (f_low >= 0) return low;
  if (f_high <= 0) return high;
  for (int i = 0; i < 60 && high - low > exact; ++i) {
    const double x = std::clamp((low * f_high - high * f_low) / (f_high - f_low),
                                low + 1e-3 * (high - low), high - 1e-3 * (high - low));
    const double y = f(x);
    if (y == 0) return x;
    if (y < 0) {
      low = x;
      f_low = y;
      f_high /= 2;
    } else {
      high = x;
      f_high = y;
      f_low /= 2;
    }
  }
  return (low + high) / 2;
}

constexpr double kExactFlow = 1e-11;    // m3/s, of flows near 1e-4
constexpr double kExactPressure = 0.1;  // Pa

struct Fluid {
  Density rho;
  double mu;
};
Fluid in_line(const System& s) { return {s.tank_density(), viscosity_pa_s(s.liquid, s.tank)}; }

// Lost between pump and rail (returnless: between pump and regulator).
PressureStep before_regulator(const System& s, VolumeFlow q, const Fluid& f) {
  const PressureStep filter = filter_loss(s.filter, q);
  return s.regulator.at_tank ? filter : filter + pipe_loss(s.hose, q, f.rho, f.mu);
}

PressureStep behind_regulator(const System& s, VolumeFlow burnt, const Fluid& f) {
  return s.regulator.at_tank ? pipe_loss(s.hose, burnt, f.rho, f.mu) : PressureStep{0};
}

// The pump alone, at the volts it gets there.
double curve_m3_s(const System& s, double p) {
  const PressureStep rise{std::max(0.0, p)};
  return pump_flow(s.pump, rise, volts_at_pump(s.wiring, pump_current(s.pump, rise))).si;
}

GaugePressure tip(const System& s, AbsolutePressure manifold) {
  return to_gauge(tip_pressure(s.arrangement, manifold, s.ambient), s.ambient);
}

struct Reach {
  double flow;
  bool boils;
};
Reach reach(const System& s, double rail) {
  const Fluid f = in_line(s);
  const double at_rest = curve_m3_s(s, rail);
  if (at_rest <= 0) return {0, false};
  const double q = rising_root(0, at_rest, kExactFlow, [&](double x) {
    return x - curve_m3_s(s, rail + before_regulator(s, VolumeFlow{x}, f).si);
  });
  const double inlet = inlet_can(s, VolumeFlow{q}).si;
  return {std::min(q, inlet), inlet < q};
}

PressureStep return_loss(const System& s, VolumeFlow q, const Fluid& f) {
  return q.si > 0 ? pipe_loss(s.regulator.return_hose, q, f.rho, f.mu) : PressureStep{0};
}

}  // namespace

GaugePressure set_pressure(const System& s, AbsolutePressure manifold) {
  const PressureStep reference =
      s.regulator.follows_manifold ? manifold - s.ambient : PressureStep{0};
  return gauge(PressureStep{std::max(0.0, (s.regulator.setting + reference).si)});
}

VolumeFlow pump_can(const System& s, GaugePressure rail) {
  return VolumeFlow{reach(s, rail.above_ambient.si).flow};
}

PressureStep pump_works_against(const System& s, GaugePressure rail, VolumeFlow flow) {
  return rail.above_ambient + before_regulator(s, flow, in_line(s));
}

PressureStep across_nozzle(const System& s, AbsolutePressure manifold, MassFlow fuel) {
  const VolumeFlow burnt{fuel.si / s.tank_density().si};
  const PressureStep rail =
      set_pressure(s, manifold).above_ambient - behind_regulator(s, burnt, in_line(s));
  return PressureStep{std::max(0.0, (rail - tip(s, manifold).above_ambient).si)};
}

MassFlow Most::least() const { return std::min({pump, injectors, lift}); }

Most most_at(const System& s, EngineSpeed n, AbsolutePressure manifold) {
  Most out;
  const Density rho = s.tank_density();
  out.pump = MassFlow{rho.si * pump_can(s, set_pressure(s, manifold)).si};
  out.lift = MassFlow{s.lift.flow.si > 0 ? rho.si * s.lift.flow.si
                                         : std::numeric_limits<double>::infinity()};
  const auto feed = [&](MassFlow through) {
    return most_fuel(s.injectors, s.arrangement, n, across_nozzle(s, manifold, through),
                     s.rail_density(), s.wiring.source);
  };
  out.injectors = feed(MassFlow{0});
  if (s.regulator.at_tank) {  // what flows lowers the pressure that makes it flow
    out.injectors = MassFlow{
        rising_root(0, out.injectors.si, 1e-9, [&](double m) { return m - feed(MassFlow{m}).si; })};
  }
  return out;
}

OperatingPoint balance(const System& s, const Need& need) {
  EXPECTS(need.speed.rpm > 0 && need.fuel.si >= 0);
  const Fluid f = in_line(s);
  const double set = set_pressure(s, need.manifold).above_ambient.si;
  const double at_tip = tip(s, need.manifold).above_ambient.si;
  OperatingPoint out;
  const PressureStep across_set = across_nozzle(s, need.manifold, need.fuel);
  out.pulse = pulse_for(s.injectors, s.arrangement, need.speed, need.fuel, across_set,
                        s.rail_density(), s.wiring.source);
  const Duration period = squirt_period(s.arrangement, need.speed);
  const double open = std::min(1.0, out.pulse.effective / period);
  const double q_all = s.arrangement.injectors * mean_match(s.injectors);
  // Fuel that the commanded pulses let through with the regulator's side at p.
  const auto through = [&](double p) {
    const auto sent = [&](double burnt) {
      const double behind = behind_regulator(s, VolumeFlow{burnt}, f).si;
      const PressureStep across{p - behind - at_tip};
      return open * q_all * injector_flow(s.injectors, across, s.rail_density()).si / f.rho.si;
    };
    if (!s.regulator.at_tank) return sent(0);
    const double most = sent(0);
    return rising_root(0, most, kExactFlow, [&](double x) { return x - sent(x); });
  };
  double p = set;
  Reach can = reach(s, set);
  if (can.flow < through(set)) {
    out.rail_held = false;
    p = rising_root(0, set, kExactPressure,
                    [&](double x) { return through(x) - reach(s, x).flow; });
  } else if (return_loss(s, VolumeFlow{can.flow - through(set)}, f).si > set) {
    out.return_full = true;
    const double most = 4 * set + 1e6;
    p = rising_root(set, most, kExactPressure, [&](double x) {
      const double rest = std::max(0.0, reach(s, x).flow - through(x));
      return x - return_loss(s, VolumeFlow{rest}, f).si;
    });
  }
  can = reach(s, p);
  out.injected = VolumeFlow{std::min(through(p), can.flow)};
  out.pumped = out.rail_held ? VolumeFlow{can.flow} : out.injected;
  out.returned = out.pumped - out.injected;
  out.inlet_boils = can.boils;
  out.rail = gauge(PressureStep{p} - behind_regulator(s, out.injected, f));
  out.across = PressureStep{std::max(0.0, out.rail.above_ambient.si - at_tip)};
  out.pump_pressure = PressureStep{p} + before_regulator(s, out.pumped, f);
  out.pump_current = pump_current(s.pump, out.pump_pressure);
  out.pump_volts = volts_at_pump(s.wiring, out.pump_current);
  out.delivered = f.rho.si * out.injected.si * (1.0 * kg_per_s);
  if (out.delivered.si > 0) out.leaner = need.fuel / out.delivered - 1;
  return out;
}

}  // namespace fuelwright::physics::supply
