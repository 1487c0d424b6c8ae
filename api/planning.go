package api

import "slices"

// planning are the operations about benches, light, outlook and sensors.
func (a *API) planning() []Operation {
	return slices.Concat(a.benchOps(), a.lightOps(), a.outlookOps(), a.sensorOps())
}
