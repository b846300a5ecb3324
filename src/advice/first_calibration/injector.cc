// Injector flow and dead time, and tip-in by the wall film.
#include <fmt/format.h>

#include <cmath>

#include "advice/first_calibration/internal/making.h"
#include "advice/first_calibration/wall_film.h"

namespace fuelwright::advice::internal {
namespace {

// A coil whose current rises as 1 - e^(-t R/L) opens when it reaches I_open: with R I_open = 5.5 V
//   t(V) = t_0 ln(1 - 5.5/V)/ln(1 - 5.5/V_0)                                           (first.14)
constexpr double kOpens_V = 5.5;

double dead_time_at(double volts, double known_s, double known_v) {
  return known_s * std::log(1 - kOpens_V / volts) / std::log(1 - kOpens_V / known_v);
}

void make_flow(Making& m) {
  const car::Injection& in = m.sheet.injection;
  const car::FuelInTank& fuel = m.sheet.fuel;
  const bool manifold = in.regulator_reference.value == car::RegulatorReference::manifold;
  // Against a fixed rail pressure the step is least at full throttle; there it is stated.
  const double now = in.regulator_pressure.si();
  const double flow = in.injector_flow.si() * std::sqrt(now / in.injector_pressure.si()) *
                      std::sqrt(fuel.density.si() / in.rated_density.si());  // (first.15)
  m.put(
      car::SettingWhat::injector_flow, flow,
      fmt::format("{} at {} of the sheet, by the square root of pressure and density to {} and {}.",
                  format(in.injector_flow.si(), Kind::mass_flow, UnitSystem::metric, 3),
                  format(in.injector_pressure.si(), Kind::pressure_step, UnitSystem::metric, 3),
                  format(now, Kind::pressure_step, UnitSystem::metric, 3), fuel.name.value));
  m.put(car::SettingWhat::injector_pressure, now,
        manifold ? "the regulator follows manifold pressure, so this holds everywhere."
                 : "the regulator holds it against the atmosphere: true at full throttle, and in "
                   "vacuum the step is larger.");
  if (!manifold) {
    m.caution(fmt::format(
        "The fuel regulator does not follow manifold pressure: at idle the injectors flow about "
        "{:.0f} % more than stated; switch on the unit's correction for it.",
        100 * (std::sqrt((now + m.ambient_pa() - m.air.idle_map.from_zero.si) / now) - 1)));
  }
  m.put(car::SettingWhat::stoichiometric, fuel.stoichiometric.si(),
        fmt::format("of {}.", fuel.name.value));
  m.put(car::SettingWhat::fuel_density, fuel.density.si(), fmt::format("of {}.", fuel.name.value));
}

}  // namespace

void make_injector(Making& m) {
  make_flow(m);
  const car::Injection& in = m.sheet.injection;
  const double known_v = std::max(in.dead_time_voltage.si(), kOpens_V + 1);
  const std::vector<double> volts{7, 8, 9, 10, 11, 12, 13, 14, 15, 16};
  std::vector<double> values;
  for (const double v : volts) values.push_back(dead_time_at(v, in.dead_time.si(), known_v));
  m.put(car::CurveWhat::dead_time, volts, values,
        fmt::format("{:.2f} ms at {:.1f} V ({}), at other voltages as the current of a coil rises.",
                    1e3 * in.dead_time.si(), known_v, car::name_of(in.dead_time.source)));
}

void make_tip_in(Making& m) {
  const auto arrangement = m.sheet.injection.arrangement.value;
  const AbsolutePressure from = absolute(50.0 * kPa);  // where a tip-in begins
  const Temperature warm = celsius(80);
  const std::vector<double> rises{0, 20e3, 50e3, 100e3, 200e3, 400e3, 800e3};
  std::vector<double> extra;
  for (const double r : rises)
    extra.push_back(tip_in_share(typical_film(arrangement, warm), r, from));
  const WallFilm film = typical_film(arrangement, warm);
  m.put(car::CurveWhat::tip_in_fuel, rises, extra,
        fmt::format("the wall film must grow with the pressure: {:.0f} % of the fuel wets a warm "
                    "wall and leaves in {:.1f} s (typical, right to a factor of 2; Aquino, SAE "
                    "810494, from memory).",
                    100 * film.wetting, film.leaving.si));
  std::vector<double> factor;
  std::vector<double> time;
  constexpr double kRise = 100e3;  // at which cold and warm are compared
  const double warm_share = tip_in_share(film, kRise, from);
  for (const double t : coolant_points()) {
    const WallFilm f = typical_film(arrangement, kelvin(t));
    factor.push_back(tip_in_share(f, kRise, from) / warm_share);
    time.push_back(f.leaving.si);
  }
  m.put(car::CurveWhat::tip_in_coolant, coolant_points(), factor,
        "cold walls hold more fuel for longer; compared at a rise of 100 kPa/s.");
  m.put(car::CurveWhat::tip_in_time, coolant_points(), time,
        "the time in which the film has grown to what it will be.");
}

}  // namespace fuelwright::advice::internal
