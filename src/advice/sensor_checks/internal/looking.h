/// A recording being looked at: its columns, what the engine was doing, and the report that grows.
#pragma once

#include <string>
#include <vector>

#include "advice/sensor_checks/evidence.h"
#include "advice/sensor_checks/sensor_checks.h"

namespace fuelwright::advice {

using Column = std::vector<double>;

class Looking {
 public:
  Looking(const signals::Recording& recording, const CheckedCar& car);

  const signals::Recording& r;
  const CheckedCar& car;
  SensorReport out;
  std::size_t n;
  bool timed = false;   ///< seconds are known
  double step_s = 0;    ///< median spacing; 0 if unknown
  bool fast = false;    ///< rows at most 0.26 s apart, in order, all taken together
  bool ordered = true;  ///< neighbouring rows follow each other
  bool polled = false;  ///< what an estimate needs is renewed in different rows
  PlacePressure place;
  std::vector<char> running;       ///< [row] engine turns by itself
  std::vector<char> cut;           ///< [row] no fuel, by the pulse width
  std::vector<float> since_cut_s;  ///< 1e3 if never
  bool has_pulse = false;
  double running_s = 0;  ///< seconds, or rows if untimed

  /// Raw values, NaN for a gap; nullptr if not recorded or without a unit.
  const Column* col(signals::Quantity q, int bank = 1) const;
  double seconds(std::size_t row) const { return timed ? r.time_s[row] : 0.0; }
  /// Rows that make up so many seconds, at least 1.
  std::size_t rows_of(double s) const;

  /// Rows [first, last) concerned; pass n for "all".
  Finding& add(Check check, signals::Quantity sensor, Grade grade, const Evidence& evidence,
               std::string seen, long count = 0, std::size_t first = 0, std::size_t last = 0,
               int bank = 1);
  void skip(Check check, std::string because);

  // Figures in the person's units: "98.4 kPa", "+1.2 kPa", "88 degC", "-12 K".
  std::string pressure(double pa, int digits = 3) const;
  std::string pressure_off(double pa) const;
  std::string temperature(double k) const;
  std::string warmth_off(double k) const;
};

/// fine if not sure, else doubt, or stop where it is grave.
Grade grade_of(const Evidence& e, bool grave);
/// ln of the largest over the smallest value in rows [a, b], NaN passed over; 0 if none.
double log_spread(const Column& c, std::size_t a, std::size_t b);
double spread(const Column& c, std::size_t a, std::size_t b);
/// Typical distance of neighbouring values among those seen often; 0 if nothing can be said.
double step_of(const Column& c, long& values);

// One subject a file. Each adds what it found, what it could not look at, and its masks.
void look_at_clock(Looking& l);
void look_at_polling(Looking& l);
void look_at_dropouts(Looking& l);
void look_at_spikes(Looking& l);
void look_at_stuck(Looking& l);
void look_at_resolution(Looking& l);
void look_at_range_ends(Looking& l);
void look_at_noise(Looking& l);
void look_at_trigger(Looking& l);
void look_at_pressure(Looking& l);
void look_at_following(Looking& l);
void look_at_temperatures(Looking& l);
void look_at_voltage(Looking& l);
void look_at_fuel_pressure(Looking& l);
void look_at_mixture_sensor(Looking& l);
void look_at_cuts(Looking& l);
void look_at_misfire(Looking& l);
void look_at_level(Looking& l);
void look_at_banks(Looking& l);
void look_at_leak(Looking& l);
void mask_driving(Looking& l);

}  // namespace fuelwright::advice
