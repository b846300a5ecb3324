/// Contracts: how the program notices that it is itself wrong.
///
/// EXPECTS(x)  always on; a false x throws Bug with file, line and the text of x.
/// DASSERT(x)  the same in debug builds only, for hot loops.
///
/// A wrong file or a wrong request is never a Bug: that is Result<T> (base/result.h). A Bug is
/// caught in main() and in the server's request wrapper, nowhere else.
#pragma once

#include <stdexcept>
#include <string>

namespace fuelwright {

class Bug : public std::logic_error {
 public:
  using std::logic_error::logic_error;
};

[[noreturn]] inline void broken_contract(const char* condition, const char* file, int line) {
  throw Bug(std::string(file) + ":" + std::to_string(line) + ": expected " + condition);
}

}  // namespace fuelwright

#define EXPECTS(condition) \
  ((condition) ? void(0) : ::fuelwright::broken_contract(#condition, __FILE__, __LINE__))

#ifdef NDEBUG
#define DASSERT(condition) void(0)
#else
#define DASSERT(condition) EXPECTS(condition)
#endif
