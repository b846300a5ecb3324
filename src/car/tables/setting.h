/// A setting: one number of a calibration, such as a rev limit.
#pragma once

#include <span>

#include "car/tables/curve.h"

namespace fuelwright::car {

enum class SettingWhat {
  injector_flow,         ///< one injector, held open, the fuel in the tank [kg/s]
  injector_pressure,     ///< across it, where it flows so [Pa]
  stoichiometric,        ///< mass of air per mass of the fuel in the tank [-]
  fuel_density,          ///< [kg/m3]
  cranking_spark,        ///< before top dead centre [deg]
  idle_spark,            ///< before top dead centre, warm idle [deg]
  soft_rev_limit,        ///< spark or some cylinders are taken away from here [rpm]
  hard_rev_limit,        ///< fuel or spark is cut [rpm]
  overrun_entry,         ///< fuel is cut above this speed ... [rpm]
  overrun_resume,        ///< and comes back below this one [rpm]
  overrun_pressure,      ///< cut only below this manifold pressure [Pa]
  overrun_throttle,      ///< cut only below this opening, 0..1 of the travel [-]
  overrun_delay,         ///< time that all of it must hold before the cut [s]
  closed_loop_add,       ///< largest share of fuel that the unit may add by its sensor [-]
  closed_loop_take,      ///< largest share that it may take away [-]
  closed_loop_richest,   ///< works only where the target is at least this lambda [-]
  closed_loop_leanest,   ///< and at most this one [-]
  closed_loop_pressure,  ///< works only below this manifold pressure [Pa]
  closed_loop_coolant,   ///< works only above this coolant temperature [K]
  idle_pressure,         ///< manifold pressure to be expected at warm idle [Pa]
  idle_throttle,  ///< open area to be expected at warm idle, share of the open throttles' [-]
  flood_clear_throttle,          ///< cranking with more opening than this gives no fuel [-]
  charge_temperature_reference,  ///< intake air at which charge_temperature is 1 [K]
};
inline constexpr int kSettings = 23;

std::span<const SettingWhat> all_settings();
/// "hard_rev_limit", as written in files, and back.
const char* name_of(SettingWhat what);
Result<SettingWhat> setting_named(std::string_view name);
/// "hard rev limit", for people.
const char* label_of(SettingWhat what);
ValueUnit unit_of(SettingWhat what);
Limits limits_of(SettingWhat what);

}  // namespace fuelwright::car
