#include "cases.h"

namespace fuelwright::bench {

std::vector<FaultCase> all_faults_of_the_bench() {
  std::vector<FaultCase> v;
  key_on(v);
  of_the_recording(v);
  of_noise(v);
  of_pressure(v);
  of_mixture(v);
  return v;
}

}  // namespace fuelwright::bench
