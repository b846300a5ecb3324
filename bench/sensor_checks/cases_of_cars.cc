// Faults of pressures, temperatures, voltage and mixture.
#include "making.h"

namespace fuelwright::bench {

using namespace made;

void of_pressure(std::vector<FaultCase>& v) {
  v.push_back({"MAP offset, driving",
               false,
               true,
               {C::map_offset},
               {2, 5, 10},
               "kPa",
               broken(F::map_offset, 0, 1 / 15.0),
               "clogged air filter (1 kPa)",
               as_is()});
  v.push_back({"MAP follows in part",
               false,
               true,
               {C::map_follows, C::map_offset, C::throttle_and_map, C::saturated, C::stuck},
               {0.2, 0.5, 1},
               "share",
               broken(F::stuck_map, 20, 1),
               "table 5 to 15 % off",
               as_is()});
  v.push_back({"coolant jumps cold",
               false,
               false,
               {C::coolant_steps},
               {5, 10, 20},
               "K",
               broken(F::coolant_sensor, 300, 1 / 60.0),
               "thermostat opening",
               as_is()});
  v.push_back({"coolant stands cold",
               false,
               true,
               {C::coolant_warms},
               {60, 200, 600},
               "s",
               [](const GarageCar& car, double s, std::uint64_t road) {
                 Recording r = drive(car, {.road = road, .cold = true});
                 for (signals::Channel& c : r.channels) {
                   if (c.what != Quantity::coolant) continue;
                   for (std::size_t i = 0; i < r.rows && r.time_s[i] < s; ++i) c.si[i] = c.si[0];
                 }
                 judge(r);
                 return r;
               },
               "cold start",
               [](const GarageCar& car, std::uint64_t road) {
                 return drive(car, {.road = road, .cold = true});
               }});
  v.push_back({"intake air jumps hot",
               false,
               false,
               {C::intake_steps},
               {5, 10, 20},
               "K",
               broken(F::intake_sensor, 300, 1 / 50.0),
               "driving off after a stop",
               as_is()});
  v.push_back({"intake sensor soaks",
               false,
               false,
               {C::heat_soak},
               {12, 25, 40},
               "K",
               changed([](Truth& t, double s) { t.weather.heat_soak = s * kelvin_step; }),
               "5 K at lights",
               other([](Truth& t) { t.weather.heat_soak = 5.0 * kelvin_step; })});
  v.push_back({"voltage low",
               false,
               false,
               {C::voltage},
               {0.5, 1.2, 2.5},
               "V",
               broken(F::low_battery, 200, 1 / 4.0),
               "lights on at idle",
               as_is()});
  v.push_back({"rail sags at demand",
               false,
               true,
               {C::fuel_demand},
               {0.1, 0.3, 0.8},
               "bar",
               [](const GarageCar& car, double s, std::uint64_t road) {
                 // In proportion to fuel flow above half of its highest.
                 Recording r = usual(car, road);
                 std::vector<double>* rail = nullptr;
                 std::vector<double> flow(r.rows, 0.0);
                 for (signals::Channel& c : r.channels) {
                   if (c.what == Quantity::fuel_pressure) rail = &c.si;
                 }
                 double most = 0;
                 for (std::size_t i = 0; i < r.rows; ++i) {
                   flow[i] = r.find(Quantity::pulse_width)->si[i] * r.find(Quantity::rpm)->si[i];
                   most = std::max(most, flow[i]);
                 }
                 for (std::size_t i = 0; i < r.rows; ++i) {
                   (*rail)[i] -= 1e5 * s * std::max(0.0, flow[i] / most - 0.5) / 0.5;
                 }
                 return r;
               },
               "regulator droop of 2 %",
               other([](Truth& t) { t.fuel.droop = 0.02; })});
  v.push_back({"regulator off",
               false,
               true,
               {C::regulator},
               {0.1, 0.3, 0.6},
               "bar",
               spoiled([](Recording& r, double s, std::uint64_t) {
                 add(r, Quantity::fuel_pressure, -1e5 * s);
               }),
               "drawn within tolerance",
               as_is()});
}

void of_mixture(std::vector<FaultCase>& v) {
  v.push_back(
      {"not lean in a cut",
       false,
       true,
       {C::mixture_in_cut},
       {25, 45, 70},
       "%",
       spoiled([](Recording& r, double s, std::uint64_t g) { shorten_lean(r, 1 - s / 100, g); }),
       "gauge that ends at lambda 1.25",
       other([](Truth& t) { t.sensor.leanest = 1.25; })});
  v.push_back({"mixture sensor slow",
               false,
               false,
               {C::mixture_slow},
               {0.06, 0.15, 0.5},
               "s more",
               spoiled([](Recording& r, double s, std::uint64_t) { slow_mixture(r, s); }),
               "pipe and mixing three times as large",
               other([](Truth& t) {
                 t.exhaust.pipe = 3.0 * t.exhaust.pipe;
                 t.exhaust.mixing = 2.0 * t.exhaust.mixing;
               })});
  v.push_back({"mixture sensor cold",
               false,
               false,
               {C::mixture_cold},
               {6, 20, 90},
               "s",
               spoiled([](Recording& r, double s, std::uint64_t) { cold_sensor(r, s, 0.68); }),
               "rich at a cold start",
               [](const GarageCar& car, std::uint64_t road) {
                 return drive(car, {.road = road, .cold = true});
               }});
  v.push_back({"mixture sensor dead",
               false,
               true,
               {C::mixture_dead},
               {30, 100, 100},
               "% of the time",
               spoiled([](Recording& r, double s, std::uint64_t) {
                 const double from = r.time_s.back() * (1 - s / 100);
                 for (signals::Channel& c : r.channels) {
                   if (c.what != Quantity::lambda) continue;
                   for (std::size_t i = 0; i < r.rows; ++i) {
                     if (r.time_s[i] >= from) c.si[i] = 1.004;
                   }
                 }
               }),
               "held by closed loop",
               other([](Truth& t) { t.sensor.noise = 0.003; })});
  v.push_back({"misfire",
               false,
               true,
               {C::misfire},
               {1, 4, 10},
               "% of cycles",
               broken(F::misfire, 0, 1 / 12.5),
               "noisy sensor (1.5 %)",
               other([](Truth& t) { t.sensor.noise = 0.015; })});
  v.push_back({"exhaust leak",
               false,
               false,
               {C::exhaust_leak},
               {2, 5, 8},
               "% at idle",
               broken(F::exhaust_leak, 0, 1 / 8.0),
               "idle lean by dilution",
               other([](Truth& t) { t.sensor.dilution_limit = 0.36; })});
  v.push_back({"another fuel, or flow, all at once",
               false,
               false,
               {C::level_step},
               {2, 5, 10},
               "%",
               broken(F::clogged_injectors, 380, 1 / 25.0),
               "sensor wandering by 0.6 %",
               other([](Truth& t) { t.sensor.drift = 0.006; })});
  v.push_back({"mixture sensor drifts",
               false,
               false,
               {C::level_drift, C::level_step},
               {2, 5, 12},
               "% in 10 min",
               broken(F::drifting_sensor, 0, 1 / 10.0),
               "sensor wandering by 0.6 %",
               other([](Truth& t) { t.sensor.drift = 0.006; })});
  v.push_back({"banks differ",
               false,
               false,
               {C::banks},
               {2, 5, 12},
               "%",
               [](const GarageCar& car, double s, std::uint64_t road) {
                 return drive(car, {.road = road, .change = [&](Truth& t) {
                                      t.sensor.fitted = std::min(t.engine.banks, 2);
                                      const std::size_t n = t.fuel.cylinders.size();
                                      for (std::size_t k = 0; k < n; ++k) {
                                        // Cylinders belong to the banks in turn.
                                        t.fuel.cylinders[k] *=
                                            k % 2 == 0 ? 1 - s / 200 : 1 + s / 200;
                                      }
                                    }});
               },
               "cylinders within tolerance",
               other([](Truth& t) { t.sensor.fitted = std::min(t.engine.banks, 2); })});
  v.push_back({"unit corrects all along",
               false,
               false,
               {C::standing_correction},
               {6, 13, 20},
               "%",
               spoiled([](Recording& r, double s, std::uint64_t) {
                 add(r, Quantity::correction, s / 100);
               }),
               "table 5 to 15 % off",
               as_is()});
}

}  // namespace fuelwright::bench
