/// Rows with the key on and the engine standing, made for a car: what its sensors would say.
#pragma once

#include "cars.h"

namespace fuelwright::bench {

/// What is wrong, all nothing by default.
struct AtRest {
  double map_off_pa = 0;
  double coolant_off_k = 0, intake_off_k = 0;
  double throttle_closed = 0, throttle_open = 1;
  double track_leap = 0;
  double battery_off_v = 0;
  double free_air_gain = 1;  ///< of lambda - 1
  double rail_off_pa = 0;
  double rail_lost_pa = 0;  ///< within 10 s of the pump's stop
  double stood_h = 10;      ///< hours since the engine ran
  double gauge_end = 1.6;   ///< lambda at which the gauge's range ends
  double altitude_slip_pa = 0;
};

/// Forty seconds at 20 Hz; the pedal goes to the floor and back once, the pump primes for 3 s.
signals::Recording key_on_rows(const GarageCar& car, const AtRest& what, std::uint64_t seed);

}  // namespace fuelwright::bench
