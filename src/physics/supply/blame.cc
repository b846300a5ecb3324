// Which part is to blame: each in turn is put into the state that good practice knows.
#include <algorithm>
#include <cmath>

#include "physics/supply/margins.h"

namespace fuelwright::physics::supply {
namespace {

constexpr double kSoundDrop_V = 0.5;
constexpr double kSoundLoss_Pa = 10e3;
constexpr double kSoundSource_V = 13.5;
constexpr double kSmaller = 0.95;  // of the middle injector
constexpr double kWorthNaming = 0.04;

double median(std::vector<double> v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

void sound_injectors(System* s) {
  const double middle = median(s->injectors.match);
  for (double& m : s->injectors.match)
    if (m < kSmaller * middle) m = middle;
}

// More pressure for injectors that lack it, less for a pump that works against too much.
void sound_regulator(System* s, Side side) {
  const PressureStep rated = s->injectors.rated_pressure;
  if (s->arrangement.at_ports) s->regulator.follows_manifold = true;
  if (side == Side::injectors) s->regulator.setting = std::max(s->regulator.setting, rated);
  if (side == Side::pump) s->regulator.setting = std::min(s->regulator.setting, rated);
}

void sound_wiring(System* s, const Need& need) {
  const OperatingPoint p = balance(*s, need);
  const Resistance copper = wire_resistance(s->wiring);
  const Resistance all = copper + s->wiring.contacts;
  if (p.pump_current.si <= 0 || all.si <= 0) return;
  const double drop = p.pump_current.si * all.si;
  if (drop <= kSoundDrop_V) return;
  s->wiring.contacts = (kSoundDrop_V / drop) * all - copper;
}

void sound_hose(System* s, const Need& need) {
  const VolumeFlow q = s->regulator.at_tank ? VolumeFlow{need.fuel.si / s->tank_density().si}
                                            : pump_can(*s, set_pressure(*s, need.manifold));
  const double mu = viscosity_pa_s(s->liquid, s->tank);
  for (int i = 0; i < 60; ++i) {
    if (pipe_loss(s->hose, q, s->tank_density(), mu).si <= kSoundLoss_Pa) return;
    s->hose.diameter = 1.05 * s->hose.diameter;
  }
}

void sound_inlet(System* s) { s->inlet.needed = PressureStep{-1e7}; }

System sound(const System& s, Weak part, const Need& need, Side side) {
  System out = s;
  switch (part) {
    case Weak::one_injector:
      sound_injectors(&out);
      break;
    case Weak::regulator:
      sound_regulator(&out, side);
      break;
    case Weak::wiring:
      sound_wiring(&out, need);
      break;
    case Weak::charging:
      out.wiring.source = std::max(out.wiring.source, kSoundSource_V * volt);
      break;
    case Weak::hose:
      sound_hose(&out, need);
      break;
    case Weak::filter:
      out.filter.loss = std::min(out.filter.loss, PressureStep{kSoundLoss_Pa});
      break;
    case Weak::inlet:
      sound_inlet(&out);
      break;
    default:
      break;
  }
  return out;
}

std::vector<Weak> suspects(Side side) {
  if (side == Side::injectors)
    return {Weak::one_injector, Weak::regulator, Weak::hose, Weak::charging};
  if (side == Side::pump) {
    return {Weak::wiring, Weak::charging, Weak::hose, Weak::filter, Weak::inlet, Weak::regulator};
  }
  return {};
}

}  // namespace

Weak blame(const System& s, const Need& need, Side side, double goal) {
  const double before = margins_at(s, need)[side];
  if (before >= goal) return Weak::none;
  Weak worst = side == Side::injectors ? Weak::injectors
               : side == Side::pump    ? Weak::pump
                                       : Weak::lift_pump;
  double most = kWorthNaming;
  for (const Weak part : suspects(side)) {
    const Margins after = margins_at(sound(s, part, need, side), need);
    // A regulator that robs the injectors to feed the pump has cured nothing.
    const bool robs =
        part == Weak::regulator && side == Side::pump && after[Side::injectors] < goal;
    if (robs || after[side] < goal || after[side] - before < most) continue;
    most = after[side] - before;
    worst = part;
  }
  return worst;
}

}  // namespace fuelwright::physics::supply
