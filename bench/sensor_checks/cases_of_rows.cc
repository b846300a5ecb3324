// Faults at key-on, of the recording, and noise.
#include "making.h"

namespace fuelwright::bench {

using namespace made;

namespace {

void after_a_night(advice::CheckedCar& c) { c.weather.stood = 10.0 * hour; }

}  // namespace

void key_on(std::vector<FaultCase>& v) {
  v.push_back({"MAP offset, key on",
               true,
               true,
               {C::ambient_pressure},
               {2, 5, 10},
               "kPa",
               rest([](AtRest& a, double s) { a.map_off_pa = 1e3 * s; }),
               "sensor of 0.3 kPa error in other weather",
               at_rest([](AtRest& a) { a.map_off_pa = 500; })});
  v.push_back({"coolant sensor off, key on",
               true,
               false,
               {C::temperatures_agree},
               {5, 10, 20},
               "K",
               rest([](AtRest& a, double s) { a.coolant_off_k = -s; }),
               "stood for 3 hours only",
               at_rest([](AtRest& a) { a.stood_h = 3; }),
               {}});
  v.back().say = after_a_night;
  v.back().say_healthy = [](advice::CheckedCar& c) { c.weather.stood = 3.0 * hour; };
  v.push_back({"intake sensor off, key on",
               true,
               false,
               {C::temperatures_agree},
               {5, 10, 20},
               "K",
               rest([](AtRest& a, double s) { a.intake_off_k = s; }),
               "after a night",
               at_rest()});
  v.back().say = v.back().say_healthy = after_a_night;
  v.push_back({"throttle rests open",
               true,
               false,
               {C::throttle_ends},
               {3, 8, 15},
               "%",
               rest([](AtRest& a, double s) { a.throttle_closed = s / 100; }),
               "1 % at rest",
               at_rest([](AtRest& a) { a.throttle_closed = 0.01; })});
  v.push_back({"throttle does not open",
               true,
               false,
               {C::throttle_ends},
               {5, 15, 35},
               "%",
               rest([](AtRest& a, double s) { a.throttle_open = 1 - s / 100; }),
               "opens to 99 %",
               at_rest([](AtRest& a) { a.throttle_open = 0.99; })});
  v.push_back({"worn throttle track",
               true,
               false,
               {C::throttle_ends},
               {10, 20, 40},
               "%",
               rest([](AtRest& a, double s) { a.track_leap = s / 100; }),
               "pressed quickly",
               at_rest()});
  v.push_back({"flat battery, key on",
               true,
               false,
               {C::battery_at_rest},
               {0.3, 0.8, 1.5},
               "V",
               rest([](AtRest& a, double s) { a.battery_off_v = -s; }),
               "cool, well charged",
               at_rest([](AtRest& a) { a.battery_off_v = -0.1; })});
  v.push_back({"mixture short of lean in free air",
               true,
               true,
               {C::mixture_in_free_air},
               {15, 40, 70},
               "%",
               rest([](AtRest& a, double s) { a.free_air_gain = 1 - s / 100; }),
               "gauge that ends at lambda 1.25",
               at_rest([](AtRest& a) { a.gauge_end = 1.25; })});
  v.push_back({"static fuel pressure off",
               true,
               true,
               {C::fuel_pressure_static},
               {0.1, 0.3, 0.6},
               "bar",
               rest([](AtRest& a, double s) { a.rail_off_pa = -1e5 * s; }),
               "regulator within 1 %",
               at_rest([](AtRest& a) { a.rail_off_pa = 3e3; })});
  v.push_back({"fuel pressure decays",
               true,
               false,
               {C::fuel_pressure_decay},
               {0.3, 0.8, 2},
               "bar/10s",
               rest([](AtRest& a, double s) { a.rail_lost_pa = 1e5 * s; }),
               "2 kPa in 10 s",
               at_rest()});
}

void of_the_recording(std::vector<FaultCase>& v) {
  v.push_back({"blank MAP cells",
               false,
               false,
               {C::dropouts},
               {0.5, 2, 8},
               "%",
               spoiled([](Recording& r, double s, std::uint64_t g) {
                 blank(r, Quantity::map, s / 100, g);
               }),
               "none",
               as_is()});
  v.push_back({"MAP falls away for a row",
               false,
               true,
               {C::spikes},
               {0.2, 2, 5},
               "%",
               spoiled([](Recording& r, double s, std::uint64_t g) {
                 spike(r, Quantity::map, s / 100, 5e3, g);
               }),
               "hard driving",
               as_is()});
  v.push_back({"coolant contact opens",
               false,
               false,
               {C::spikes, C::coolant_steps},
               {0.05, 0.3, 2},
               "%",
               spoiled([](Recording& r, double s, std::uint64_t g) {
                 spike(r, Quantity::coolant, s / 100, 233, g);
               }),
               "none",
               as_is()});
  v.push_back(
      {"MAP stands still at times",
       false,
       true,
       {C::stuck},
       {1, 2, 10},
       "s, 4 times",
       spoiled([](Recording& r, double s, std::uint64_t g) { hold(r, Quantity::map, s, 4, g); }),
       "MAP in whole kPa",
       looks([](Recording& r, std::uint64_t) { quantise(r, Quantity::map, 1e3); })});
  v.push_back(
      {"mixture stands still at times",
       false,
       true,
       {C::stuck},
       {1, 3, 10},
       "s, 4 times",
       spoiled([](Recording& r, double s, std::uint64_t g) { hold(r, Quantity::lambda, s, 4, g); }),
       "mixture in steps of 0.1 AFR",
       looks([](Recording& r, std::uint64_t) { quantise(r, Quantity::lambda, 0.1 / 14.7); })});
  v.push_back(
      {"coarse MAP",
       false,
       false,
       {C::quantised},
       {1.5, 3, 6},
       "kPa",
       spoiled([](Recording& r, double s, std::uint64_t) { quantise(r, Quantity::map, 1e3 * s); }),
       "MAP in whole kPa",
       looks([](Recording& r, std::uint64_t) { quantise(r, Quantity::map, 1e3); })});
  v.push_back({"unsteady clock",
               false,
               false,
               {C::clock_jitter},
               {6, 15, 40},
               "ms",
               spoiled([](Recording& r, double s, std::uint64_t g) { jitter(r, s / 1e3, g); }),
               "2 ms",
               looks([](Recording& r, std::uint64_t g) { jitter(r, 2e-3, g); })});
  v.push_back({"gaps in time",
               false,
               false,
               {C::clock_gaps},
               {0.5, 2, 12},
               "s, 6 times",
               spoiled([](Recording& r, double s, std::uint64_t g) { drop_rows(r, s, 6, g); }),
               "one row missing",
               looks([](Recording& r, std::uint64_t g) { drop_rows(r, 0.05, 3, g); })});
  v.push_back({"polled in turn",
               false,
               false,
               {C::polled},
               {2, 4, 10},
               "rows",
               spoiled([](Recording& r, double s, std::uint64_t) { poll(r, static_cast<int>(s)); }),
               "all in every row",
               as_is()});
  v.push_back({"MAP sensor at its end",
               false,
               true,
               {C::saturated, C::map_offset},
               {94, 88, 75},
               "% of ambient",
               [](const GarageCar& car, double s, std::uint64_t road) {
                 Recording r = usual(car, road);
                 limit_top(r, Quantity::map, s / 100 * car.truth.weather.ambient.from_zero.si);
                 judge(r);
                 return r;
               },
               "at 1500 m",
               other([](Truth& t) { t.weather.ambient = absolute(84.6 * kPa); })});
  // A technician up there says so.
  v.back().say_healthy = [](advice::CheckedCar& c) { c.weather.station = absolute(84.6 * kPa); };
}

void of_noise(std::vector<FaultCase>& v) {
  v.push_back({"noise on MAP",
               false,
               false,
               {C::noise},
               {0.8, 2, 6},
               "kPa",
               spoiled([](Recording& r, double s, std::uint64_t g) {
                 add_noise(r, Quantity::map, 1e3 * s, g);
               }),
               "0.4 kPa more",
               looks([](Recording& r, std::uint64_t g) { add_noise(r, Quantity::map, 400, g); })});
  v.push_back(
      {"ignition on MAP",
       false,
       false,
       {C::noise_with_speed, C::noise},
       {0.6, 2, 6},
       "kPa",
       spoiled([](Recording& r, double s, std::uint64_t) {
         add_in_step(r, Quantity::map, 1e3 * s, 0.5, 0);
       }),
       "a big cam's pulsation, fading with speed",
       looks([](Recording& r, std::uint64_t) { add_in_step(r, Quantity::map, 8e3, 0.5, 350); })});
  v.push_back({"lost teeth",
               false,
               true,
               {C::trigger},
               {0.1, 0.5, 2},
               "% of teeth",
               spoiled([](Recording& r, double s, std::uint64_t g) { lose_teeth(r, s / 100, g); }),
               "speed in steps of 25 rpm",
               looks([](Recording& r, std::uint64_t) { quantise(r, Quantity::rpm, 25); })});
}

}  // namespace fuelwright::bench
