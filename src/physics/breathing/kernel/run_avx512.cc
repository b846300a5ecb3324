// The flow kernel for one instruction set; see lanes.h.
#define FUELWRIGHT_LANES 16
#define FUELWRIGHT_KERNEL kernel_avx512
#include "physics/breathing/kernel/engine.h"
#include "physics/breathing/kernel/entry.h"

namespace fuelwright::physics::kernel {

const Entry k_avx512{kernel_avx512::kLanes, kernel_avx512::kWorkspace, kernel_avx512::run_network};

}  // namespace fuelwright::physics::kernel
